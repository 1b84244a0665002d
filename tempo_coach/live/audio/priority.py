"""Real-time priority of the audio process, where the system gives it."""

from __future__ import annotations

import os

#: Low among the real-time priorities: above every program, below the sound server where that has one.
PRIORITY = 5


def raise_priority() -> bool:
    """Request round-robin real-time scheduling of this process and of threads that it starts later.

    Returns
    -------
    bool
        False where the system refuses or knows no such thing; macOS and Windows give it to audio callbacks by
        themselves.
    """
    try:
        os.sched_setscheduler(0, os.SCHED_RR, os.sched_param(PRIORITY))
    except (AttributeError, OSError):
        return False
    return True


def is_given() -> bool:
    """Return whether the system would grant it; nothing stays changed."""
    if not raise_priority():
        return False
    os.sched_setscheduler(0, os.SCHED_OTHER, os.sched_param(0))
    return True
