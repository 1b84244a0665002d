"""Base of sources whose onsets and readings come one by one: a thread stamps them, and they are read when asked for.

What comes may carry the time at which it was sent, on the sender's clock. It may be late on its way, never early, so
that clock is put on ours by what took least: what everything takes of its own nobody here can know.
"""

from __future__ import annotations

import math
import queue
from time import perf_counter
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from tempo_coach.live.inputs.source import Collected, SourceOnset
from tempo_coach.observe.take.clock import NominalRate, fit_earliest

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from tempo_coach.live.inputs.source import SourceNews
    from tempo_coach.observe.observers import ObservedBy
    from tempo_coach.pattern.plan.plan import Plan
    from tempo_coach.times import Floats

#: Most rows of a take: more come from no hand and no sensor.
MOST_ROWS = 1_000_000
#: Seconds before a take's beginning that are kept.
_BEFORE = 2.0
#: Seconds of rows that are summed up by the one that took least.
_BIN = 1.0
#: How far a sender's rate may be off, and after how many seconds it is fitted.
_RATE = NominalRate(1.0, off=300e-6, span=7.0)


class Row(NamedTuple):
    """An onset, or a reading if it has values; ``sent`` is NaN where the sender gives no time."""

    sent: float
    hand: str
    values: tuple[float, ...] = ()


class SenderClock:
    """A sender's clock converted to ours by the rows with the least delay."""

    def __init__(self) -> None:
        self._least: dict[int, tuple[float, float]] = {}

    def add(self, sent: float, arrived: float) -> None:
        """Add one row."""
        key = math.floor(arrived / _BIN)
        if key not in self._least or arrived - sent < self._least[key][1] - self._least[key][0]:
            self._least[key] = (sent, arrived)

    def put(self, sent: Sequence[float]) -> Floats:
        """Return when rows were sent, on our clock, up to the delay of the quickest of them.

        A sender whose clock jumps has no rate: then the quickest row of all decides.
        """
        stamps = np.array(sent, dtype=np.float64)
        if not self._least:
            return stamps
        first, arrived = np.array([self._least[key] for key in sorted(self._least)]).T
        line = fit_earliest(arrived, first, _RATE)
        return stamps + float((arrived - first).min()) if line.rate == 1.0 else line.to_first(stamps)


class ArrivingRows:
    """A source that is fed row by row. See :class:`tempo_coach.live.inputs.source.LiveSource`.

    A kind of source calls :meth:`came` from its thread, and says in :meth:`_read` what is in that.
    """

    observed_by: ObservedBy = "sender"

    def __init__(self) -> None:
        self._came: queue.SimpleQueue[tuple[float, Any]] = queue.SimpleQueue()
        self._clock = SenderClock()
        self._rows: list[tuple[float, Row]] = []
        self._told = 0
        self._hands: tuple[str, ...] = ()
        self._start, self._end = math.inf, math.inf

    @property
    def note(self) -> str:
        """Status text: empty unless a kind of source has one."""
        return ""

    def came(self, raw: object, stamp: float | None = None) -> None:
        """Queue what arrived, with its stamp; it is parsed later."""
        self._came.put((perf_counter() if stamp is None else stamp, raw))

    def _read(self, raw: Any) -> Iterable[Row]:
        """Return the onsets of hands in what arrived."""
        raise NotImplementedError

    def _notices(self) -> list[SourceNews]:
        """Return further notices."""
        return []

    def poll(self) -> list[SourceNews]:
        """Return new onsets and notices."""
        news: list[SourceNews] = []
        while not self._came.empty():
            arrived, raw = self._came.get()
            for row in self._read(raw):
                if not math.isnan(row.sent):
                    self._clock.add(row.sent, arrived)
                if not self._start <= arrived <= self._end or len(self._rows) >= MOST_ROWS:
                    continue
                self._rows.append((arrived, row))
                if not row.values:
                    news.append(SourceOnset(row.hand, float(self._stamps([(arrived, row)])[0])))
        return [*news, *self._notices()]

    def _stamps(self, rows: Sequence[tuple[float, Row]]) -> Floats:
        put = self._clock.put([row.sent for _, row in rows])
        return np.where(np.isnan(put), [arrived for arrived, _ in rows], put)

    def readings(self) -> dict[str, list[list[float]]]:
        """Return the readings since the last call."""
        newest = [each for each in self._rows[self._told :] if each[1].values]
        self._told = len(self._rows)
        found: dict[str, list[list[float]]] = {}
        for stamp, (_, row) in zip(self._stamps(newest).tolist(), newest, strict=True):
            found.setdefault(row.hand, []).append([stamp, *row.values])
        return found

    def show(self, values: Mapping[str, object]) -> None:
        """Show nothing."""

    def begin(self, plan: Plan, zero: float, beats: Sequence[Sequence[object]] = ()) -> None:
        """Open a take."""
        del beats
        self._rows, self._told, self._hands = [], 0, plan.hands
        self._start, self._end = zero - _BEFORE, math.inf

    def end(self, stamp: float) -> None:
        """Close the take."""
        self._end = stamp

    def collected(self) -> Collected:
        """Return all of the take, on our clock as best known by now."""
        onsets: list[tuple[float, str]] = []
        readings: dict[str, list[list[float]]] = {}
        for stamp, (_, row) in zip(self._stamps(self._rows).tolist(), self._rows, strict=True):
            if row.values:
                readings.setdefault(row.hand, []).append([stamp, *row.values])
            else:
                onsets.append((stamp, row.hand))
        return Collected(onsets=onsets, readings={hand: sorted(rows) for hand, rows in readings.items()})
