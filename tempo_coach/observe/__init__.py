"""Observation: whatever was observed to onsets on the take clock.

``take`` onsets, their file and clocks, ``trace`` tables of sensors and trackers, ``sound`` recordings, ``film`` films.
"""
