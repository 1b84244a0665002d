"""Patterns: what is to be done on which count."""
