"""Lines of text, as any program or a board on a serial cable prints them: onsets and readings with the sender's time.

``TIME,HAND`` is an onset, ``TIME,HAND,X,Y,Z,RX,RY,RZ`` a reading (acceleration in m/s², rotation in rad/s); with one
hand its name may be left out of a reading. ``TIME`` is in seconds from anywhere, on the sender's clock; an onset
without one counts as it arrives. A line may be late on its way, never early, so the sender's clock is put on ours by
the lines that took least: what every line takes of its own nobody here can know.
"""

from __future__ import annotations

import math
import os
import queue
import select
import threading
from time import perf_counter
from typing import TYPE_CHECKING

import numpy as np

from tempo_coach.live.inputs.source import Collected, SourceOnset
from tempo_coach.live.notices import Code, Notice
from tempo_coach.observe.take.clock import fit_clock

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from tempo_coach.live.inputs.source import SourceNews
    from tempo_coach.observe.observers import ObservedBy
    from tempo_coach.pattern.plan.plan import Plan

#: Bytes read at once, the longest line, and the most rows of a take: more come from no hand and no sensor.
_AT_ONCE, LONGEST, MOST_ROWS = 65_536, 400, 1_000_000
#: Seconds before a take's beginning that are kept.
_BEFORE = 2.0
#: Seconds of lines that are summed up by the one that took least; with so many of them a rate is fitted.
_BIN, _BINS_FOR_RATE = 1.0, 8
#: Largest deviation of the sender's rate, and share of the bins that may have taken less than the line says.
_RATE_OFF, _EARLY = 300e-6, 0.2
#: Values of a reading.
_VALUES = 6


class SenderClock:
    """The sender's clock put on ours by the lines that took least."""

    def __init__(self) -> None:
        self._least: dict[int, tuple[float, float]] = {}

    def add(self, sent: float, arrived: float) -> None:
        """Take in one line."""
        key = math.floor(arrived / _BIN)
        if key not in self._least or arrived - sent < self._least[key][1] - self._least[key][0]:
            self._least[key] = (sent, arrived)

    def put(self, sent: Sequence[float]) -> list[float]:
        """Return when lines were sent, on our clock, but for what the quickest of them took.

        A sender whose clock jumps has no rate: then the quickest line of all decides.
        """
        if not self._least:
            return list(sent)
        stamps, arrived = np.array([self._least[key] for key in sorted(self._least)]).T
        late = arrived - stamps
        if len(late) >= _BINS_FOR_RATE and np.ptp(stamps) > 0:
            line = fit_clock(stamps, arrived)
            if abs(line.rate - 1) <= _RATE_OFF:
                off = float(np.quantile(arrived - line.to_second(stamps), _EARLY))
                return [line.to_second(each) + off for each in sent]
        return [each + float(late.min()) for each in sent]


class LineReader:
    """Reads lines. See :class:`tempo_coach.live.inputs.source.LiveSource`.

    Parameters
    ----------
    descriptor : int
        What is read: a pipe, a FIFO or a serial device. It is closed in the end.
    """

    observed_by: ObservedBy = "sender"
    note = ""

    def __init__(self, descriptor: int) -> None:
        self._descriptor = descriptor
        self._came: queue.SimpleQueue[tuple[float, bytes]] = queue.SimpleQueue()
        self._clock = SenderClock()
        self._onsets: list[tuple[float, float, str]] = []
        self._readings: list[tuple[float, float, str, tuple[float, ...]]] = []
        self._hands: tuple[str, ...] = ()
        self._start, self._end = math.inf, math.inf
        self._unread = self._told = 0
        self._over, self._told_over = False, False
        self._stop, self._stopped = os.pipe()
        self._thread = threading.Thread(target=self._listen, name="lines", daemon=True)
        self._thread.start()

    def _listen(self) -> None:
        """Stamp what comes; what is in it is looked at elsewhere."""
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
                self._came.put((stamp, line))

    def poll(self) -> list[SourceNews]:
        """Return the onsets that came, and once that lines cannot be read or that they ended."""
        news: list[SourceNews] = []
        while not self._came.empty():
            arrived, line = self._came.get()
            row = read_line(line, self._hands)
            if row is None:
                self._unread += bool(line.strip()) and bool(self._hands)
                continue
            sent, hand, values = row
            if not math.isnan(sent):
                self._clock.add(sent, arrived)
            if not self._start <= arrived <= self._end or len(self._onsets) + len(self._readings) >= MOST_ROWS:
                continue
            if values:
                self._readings.append((sent, arrived, hand, values))
            else:
                self._onsets.append((sent, arrived, hand))
                news.append(SourceOnset(hand, self._stamps([(sent, arrived)])[0]))
        if self._unread and not self._told:
            self._told = self._unread
            news.append(Notice(Code.LINES_UNREAD))
        if self._over and self._came.empty() and not self._told_over:
            self._told_over = True
            news.append(Notice(Code.LINES_OVER))
        return news

    def _stamps(self, rows: Sequence[tuple[float, float]]) -> list[float]:
        put = self._clock.put([sent for sent, _ in rows])
        return [arrived if math.isnan(stamp) else stamp for stamp, (_, arrived) in zip(put, rows, strict=True)]

    def show(self, values: Mapping[str, object]) -> None:
        """Show nothing."""

    def begin(self, plan: Plan, zero: float, beats: Sequence[Sequence[object]] = ()) -> None:
        """Open a take."""
        del beats
        self._onsets, self._readings, self._hands = [], [], plan.hands
        self._start, self._end = zero - _BEFORE, math.inf

    def end(self, stamp: float) -> None:
        """Close the take."""
        self._end = stamp

    def collected(self) -> Collected:
        """Return what the take has, on our clock as it is known by now."""
        stamps = self._stamps([(sent, arrived) for sent, arrived, _ in self._onsets])
        readings: dict[str, list[list[float]]] = {}
        for stamp, (_, _, hand, values) in zip(
            self._stamps([(sent, arrived) for sent, arrived, _, _ in self._readings]), self._readings, strict=True
        ):
            readings.setdefault(hand, []).append([stamp, *values])
        return Collected(
            onsets=[(stamp, hand) for stamp, (_, _, hand) in zip(stamps, self._onsets, strict=True)],
            readings={hand: sorted(rows) for hand, rows in readings.items()},
        )

    def close(self) -> None:
        """Let go of what is read."""
        os.write(self._stopped, b"x")  # a thread that waits is woken
        self._thread.join(1.0)
        for each in (self._descriptor, self._stop, self._stopped):
            os.close(each)


def read_line(line: bytes, hands: Sequence[str]) -> tuple[float, str, tuple[float, ...]] | None:
    """Return time (NaN where it is left out), hand and values of a line; None where it is none of ours.

    Examples
    --------
    >>> read_line(b"12.5,left", ("right", "left")), read_line(b",Left", ("right", "left"))
    ((12.5, 'left', ()), (nan, 'left', ()))
    >>> read_line(b"12.5,0,0,9.8,0,0,1", ("rope",)), read_line(b"hello", ("rope",))
    ((12.5, 'rope', (0.0, 0.0, 9.8, 0.0, 0.0, 1.0)), None)
    """
    if len(line) > LONGEST:
        return None
    fields = [each.strip() for each in line.decode("utf-8", "replace").split(",")]
    known = {hand.lower(): hand for hand in hands}
    if len(fields) > 1 and fields[1].lower() in known:
        hand, rest = known[fields[1].lower()], fields[2:]
    elif len(hands) == 1 and len(fields) == 1 + _VALUES:
        hand, rest = hands[0], fields[1:]
    else:
        return None
    try:
        sent = float(fields[0]) if fields[0] else math.nan
        values = tuple(float(each) for each in rest)
    except ValueError:
        return None
    if len(values) not in (0, _VALUES) or not all(map(math.isfinite, values)) or math.isinf(sent):
        return None
    return (sent, hand, values) if not (values and math.isnan(sent)) else None
