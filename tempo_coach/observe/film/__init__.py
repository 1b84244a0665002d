"""Films: from a file to onsets, with tape on the apparatus or without.

With markers: ``frames`` decodes the pictures, ``colour_choice`` settles on colours, ``spots`` finds them, ``paths``
tracks them, ``camera`` takes out the camera's own motion, ``marker_trace`` runs all of this and ``film_take`` puts the
result on the take clock. Without markers: ``change``, ``cycle_phase`` and ``motion`` follow what repeats in the
picture. ``marks`` reads instants that somebody marked by hand.
"""
