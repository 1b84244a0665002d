"""Scores: what was done against what was asked; pure values, no words.

``pairing`` onsets with moments, ``measures`` one formula each, ``faults`` what happened and which cycle broke,
``group`` several people, ``trace`` what a trace shows by itself; ``card`` puts a take's together.
"""
