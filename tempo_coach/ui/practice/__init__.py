"""The screens of practising.

``setup`` asks, ``practise`` and ``live_group`` (on ``moving_screen``) draw while she moves, ``after`` shows the card.
``practice_card`` is what can be read from three metres. ``today_screen`` goes through a session; ``filmed`` and
``sensor_table`` add a film or a table after the take, ``joining`` lets phones in, ``new_drill`` makes a drill, and
``line_by_line`` is the same practice for a screen reader.
"""
