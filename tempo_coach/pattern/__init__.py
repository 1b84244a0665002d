"""Patterns: what is to be done on which count, and the files that people write.

``drill`` is one movement and a way of practising it. ``plan`` lays it on counts: the moments and cues of one take.
``routine`` is a whole piece of music with everything laid on its eights, and the rules about lengths. ``toss`` is the
physics of a flight.
"""
