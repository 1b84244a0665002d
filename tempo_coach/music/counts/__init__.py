"""Counts of eight: the map from seconds to counts, and corrections by hand as values."""
