"""Music: from a sound file to beats, counts of eight and back."""
