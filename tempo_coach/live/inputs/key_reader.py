"""Process that reads the terminal and stamps what comes: started with its path, not imported.

It needs a few hundredths of a second to start and a few microseconds to answer, because nothing else runs in it: no
picture is drawn, nothing is collected. What it reads goes on unchanged, with a stamp before it.
"""

from __future__ import annotations

import contextlib
import gc
import os
import select
import struct
import sys
from time import monotonic

#: Before each piece that was read: ``time.monotonic`` at which it was there, and how many bytes it has.
HEAD = struct.Struct("<dI")
#: So many bytes at once are far more than hands press, and less than a pipe takes in one piece.
MOST = 400
#: Real-time priority asked for, so that a key is stamped when it comes and not when a busy machine has time for it.
PRIORITY = 6


def unpack(raw: bytes) -> tuple[list[tuple[float, bytes]], bytes]:
    """Return the complete records with their stamps, and the incomplete rest.

    Examples
    --------
    >>> unpack(HEAD.pack(2.5, 1) + b"j" + HEAD.pack(2.75, 1))[0]
    [(2.5, b'j')]
    """
    pieces = []
    at = 0
    while len(raw) >= at + HEAD.size:
        stamp, length = HEAD.unpack_from(raw, at)
        if len(raw) < at + HEAD.size + length:
            break
        at += HEAD.size + length
        pieces.append((stamp, raw[at - length : at]))
    return pieces, raw[at:]


def main() -> None:
    """Copy descriptor 0 with stamps to 1, until the terminal ends or the other end of the third is closed."""
    life = int(sys.argv[1])
    gc.disable()
    with contextlib.suppress(AttributeError, OSError):
        os.sched_setscheduler(0, os.SCHED_RR, os.sched_param(PRIORITY))
    while True:
        ready = select.select([0, life], [], [])[0]
        stamp = monotonic()
        if life in ready:
            return
        try:
            data = os.read(0, MOST)
        except OSError:
            return
        if not data:
            return
        os.write(1, HEAD.pack(stamp, len(data)) + data)


if __name__ == "__main__":
    main()
