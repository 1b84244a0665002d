"""Observation: whatever was observed becomes onsets on the take clock.

``take`` has onsets, their file and clocks, ``trace`` tables of sensors and trackers, ``sound`` recordings, ``film``
films. ``observers`` is the registry of ways to observe, ``members`` reads a group's recordings, and ``table_text`` is
the first step of every table.
"""
