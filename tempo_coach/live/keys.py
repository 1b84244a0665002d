"""Taps stamped where they arrive: what keeps the interpreter from being late for them.

A terminal library stamps a key in its own input thread. That thread has to get hold of the interpreter first; a long
garbage collection or a busy main thread keeps it waiting, and the stamp comes late. For the length of a take neither
happens.
"""

from __future__ import annotations

import gc
import sys
from contextlib import contextmanager
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterator

#: Seconds after which a busy thread hands the interpreter over: the default of 5 ms would be seen in the stamps.
SWITCH_INTERVAL = 0.0005
#: Collections of the middle generation before the oldest one's turn comes: never, within a take.
NEVER = 1_000_000


@contextmanager
def steady_interpreter() -> Iterator[None]:
    """Keep the interpreter quick to answer until the block ends, then put everything back.

    Objects that live already are frozen, so that no collection walks over them; the oldest generation is not collected;
    threads change over ten times as often.
    """
    thresholds, interval = gc.get_threshold(), sys.getswitchinterval()
    gc.collect()
    gc.freeze()
    gc.set_threshold(thresholds[0], thresholds[1], NEVER)
    sys.setswitchinterval(SWITCH_INTERVAL)
    try:
        yield
    finally:
        sys.setswitchinterval(interval)
        gc.set_threshold(*thresholds)
        gc.unfreeze()
