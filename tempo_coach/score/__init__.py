"""Scores: what was done, measured against what was asked."""
