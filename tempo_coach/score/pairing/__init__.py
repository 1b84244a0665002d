"""Pairing: hypotheses about the whole take, then each onset with the moment that it answers."""
