"""Setting counts, without a screen: the state in hand, its edits, and listening with clicks."""
