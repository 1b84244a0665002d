"""A rhythm and timing coach for rhythmic gymnasts.

``coach`` is the flow from music to scorecard as a handful of verbs; ``cli`` and ``ui`` are its two front ends. Below it
lie ``music``, ``pattern``, ``observe``, ``score``, ``history``, ``report`` and ``live``. DEVELOPERS.md draws how data
flows through them.
"""

__version__ = "0.1.0"
