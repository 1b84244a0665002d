"""The screen on which a routine's counts are set.

``screen`` handles keys, clicks and playback; ``keys`` maps each key to an edit of :mod:`tempo_coach.coach.counting`.
``sheet_card`` and ``sheet_rows`` draw the count sheet, ``ask`` reads what is typed, ``map_screen`` shows the music's
map.
"""
