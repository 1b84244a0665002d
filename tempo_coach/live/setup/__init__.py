"""The delays of a setup: measured by taps, key strokes and chirps, kept for each device."""
