"""Pairing of onsets with expected moments.

``hypotheses`` asks what the whole take may have been: hands swapped, another tempo, a late entry. ``search`` then pairs
onsets and moments one to one and in order, by dynamic programming, with the ``slips`` that explain a jump by whole
counts. ``hand`` arranges the result in cycles.
"""
