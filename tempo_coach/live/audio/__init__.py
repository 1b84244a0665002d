"""Playback in a process of its own, and a record of what was really heard.

``player`` runs in that process and logs to the shared memory of ``board``; ``engine`` is the program's end of it and
restarts it when it dies. ``timeline`` turns the log into the take clock and finds gaps in the sound, ``gapless`` is
what lies between two of them; ``device_rate`` notices a device that plays at another rate than it was asked for.
``playback`` is the interface that ``engine`` and ``silent``, a player without sound, have in common.
"""
