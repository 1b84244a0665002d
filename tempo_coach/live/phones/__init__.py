"""Phones in the gym as inputs and displays.

``server`` runs in a process of its own, ``connections`` counts who reaches it; ``hub`` is the session it keeps, pure,
with ``messages`` that are checked before use, ``row_book`` for rows that arrive once and in order, ``clocks`` for each
phone's clock, by the ``clock_lines`` that its messages leave open, and ``access`` for tokens and limits. ``link`` is
the program's end of it, ``joined`` a phone as the program sees it.
"""
