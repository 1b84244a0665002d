"""Observation: whatever was observed becomes onsets on the take clock.

``take`` has onsets, their file and clocks, ``trace`` tables of sensors and trackers, ``sound`` recordings, ``film``
films. ``observers`` is the registry of ways to observe, ``members`` gathers a group's takes (``member_rows`` those of
one table), and ``table_text`` is the first step of every table.
"""
