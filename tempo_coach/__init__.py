"""A rhythm and timing coach for rhythmic gymnasts.

Read :mod:`tempo_coach.coach` first: it is the whole flow as a handful of verbs.
"""

__version__ = "0.1.0"
