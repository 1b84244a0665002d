"""Words: sentences and lines of text made of values, and the plain values that stand beside them in JSON."""
