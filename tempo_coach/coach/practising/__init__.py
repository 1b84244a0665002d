"""Practising without a screen.

``form`` holds the choices of the set-up; ``start`` turns them into a plan, samples, a player and a take file.
``conductor`` (one gymnast) and ``group_conductor`` (several) drive the state machine of
:mod:`tempo_coach.live.practice` through the ``runner`` that they share. ``movement`` and ``picture`` give the screen
its values for each instant, ``sources`` opens live inputs, and ``sensed`` and ``overheard`` make takes of what sensors
and the microphone recorded.
"""
