"""Faults: models of timing, the shapes that faults have, their likelihood, and the ranked findings."""
