"""Practising, without a screen: set-up, start, conductor, and the picture of each instant as values."""
