"""Drawings in text: drills, unrolled cycles, dials, flights."""
