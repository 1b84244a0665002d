"""Counts of eight.

``count_map.CountMap`` maps seconds to counts and back. ``corrections`` are the coach's edits as values, replayed
whenever the beats are found again; ``edit_place`` and ``edit_stretch`` carry them out, at one beat or over a range, and
``renumber`` keeps the numbers right. ``music_map`` describes a piece eight by eight.
"""
