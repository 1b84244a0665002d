"""Scores: what was done against what was asked, as pure values without words.

``pairing`` matches onsets with moments, ``measures`` has one formula each, ``faults`` says what happened and which
cycle broke, ``group`` judges several people, ``trace`` what a trace shows by itself. ``card.judge`` puts a take's
``scorecard`` together, ``section_cards`` those of a run-through, and ``plain_values`` turns them into JSON.
"""
