"""Lines of text, as any program or a board on a serial cable prints them: onsets and readings with the sender's time.

``TIME,HAND`` is an onset, ``TIME,HAND,X,Y,Z,RX,RY,RZ`` a reading (acceleration in m/s², rotation in rad/s); with one
hand its name may be left out of a reading. ``TIME`` is in seconds from anywhere, on the sender's clock; an onset
without one counts as it arrives.
"""

from __future__ import annotations

import math
import os
import select
import threading
from time import perf_counter
from typing import TYPE_CHECKING

from tempo_coach.live.inputs.arriving import ArrivingRows, Row
from tempo_coach.live.notices import Code, Notice

if TYPE_CHECKING:
    from collections.abc import Sequence

    from tempo_coach.live.inputs.source import SourceNews

#: Bytes read at once, and the longest line.
_AT_ONCE, LONGEST = 65_536, 400
#: Values of a reading.
VALUES = 6


class LineReader(ArrivingRows):
    """Reads lines. See :class:`tempo_coach.live.inputs.source.LiveSource`.

    Parameters
    ----------
    descriptor : int
        What is read: a pipe, a FIFO or a serial device. It is closed in the end.
    """

    def __init__(self, descriptor: int) -> None:
        super().__init__()
        self._descriptor = descriptor
        self._unread = self._said_unread = False
        self._over, self._told_over = False, False
        self._stop, self._stopped = os.pipe()
        self._thread = threading.Thread(target=self._listen, name="lines", daemon=True)
        self._thread.start()

    def _listen(self) -> None:
        """Stamp what arrives; it is parsed elsewhere."""
        left = b""
        while True:
            try:
                ready = select.select([self._descriptor, self._stop], [], [])[0]
                stamp = perf_counter()
                raw = os.read(self._descriptor, _AT_ONCE) if self._stop not in ready else b""
            except OSError:
                raw = b""
            if not raw:
                self._over = True
                return
            *lines, left = (left + raw).split(b"\n")
            left = left[-LONGEST:]
            for line in lines:
                self.came(line, stamp)

    def _read(self, raw: bytes) -> list[Row]:
        row = read_line(raw, self._hands)
        if row is None:
            self._unread = self._unread or (bool(raw.strip()) and bool(self._hands))
        return [] if row is None else [row]

    def _notices(self) -> list[SourceNews]:
        news: list[SourceNews] = []
        if self._unread and not self._said_unread:
            self._said_unread = True
            news.append(Notice(Code.LINES_UNREAD))
        if self._over and self._came.empty() and not self._told_over:
            self._told_over = True
            news.append(Notice(Code.LINES_OVER))
        return news

    def close(self) -> None:
        """Close the input."""
        os.write(self._stopped, b"x")  # a thread that waits is woken
        self._thread.join(1.0)
        for each in (self._descriptor, self._stop, self._stopped):
            os.close(each)


def read_line(line: bytes, hands: Sequence[str]) -> Row | None:
    """Return the content of a line; None for a foreign one.

    Examples
    --------
    >>> read_line(b"12.5,left", ("right", "left"))
    Row(sent=12.5, hand='left', values=())
    >>> read_line(b"12.5,0,0,9.8,0,0,1", ("rope",)).values, read_line(b"hello", ("rope",))
    ((0.0, 0.0, 9.8, 0.0, 0.0, 1.0), None)
    """
    if len(line) > LONGEST:
        return None
    fields = [each.strip() for each in line.decode("utf-8", "replace").split(",")]
    known = {hand.lower(): hand for hand in hands}
    if len(fields) > 1 and fields[1].lower() in known:
        hand, rest = known[fields[1].lower()], fields[2:]
    elif len(hands) == 1 and len(fields) == 1 + VALUES:
        hand, rest = hands[0], fields[1:]
    else:
        return None
    try:
        sent = float(fields[0]) if fields[0] else math.nan
        values = tuple(float(each) for each in rest)
    except ValueError:
        return None
    if len(values) not in (0, VALUES) or not all(map(math.isfinite, values)) or math.isinf(sent):
        return None
    return Row(sent, hand, values) if not (values and math.isnan(sent)) else None
