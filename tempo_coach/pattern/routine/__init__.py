"""A routine: its music, its counts as corrected, what is laid on its eights, and rules about lengths."""
