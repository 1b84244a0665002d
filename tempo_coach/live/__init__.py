"""Real time: whatever depends on devices, processes and clocks.

``mixing`` prepares samples before a take begins, ``audio`` plays them in a process of its own, ``inputs`` time-stamps
keys, claps and sensors, ``phones`` serves pages to phones, and ``setup`` measures the delays of all of them.
``practice`` is the pure state machine of a practice. News leaves here as codes (``notices``), never as words.
"""
