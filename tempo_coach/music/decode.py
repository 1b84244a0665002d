"""The most likely row of beats: a semi-Markov search over the time of each beat and the interval before it.

A row of beats is worth the sum of its intervals; an interval is worth its length times (what happens at its end, how
well the tempo around it explains the onsets, how usual the tempo is), less the price of changing from the interval
before. Being worth by the second, slow and fast rows compete fairly. Between beats the music may rest, which is worth
nothing and has a price to enter and to leave.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view

from tempo_coach.music.features import FRAME_HZ
from tempo_coach.music.tempo import INTERVALS, LONGEST, LOOK_EVERY, SHORTEST

if TYPE_CHECKING:
    from tempo_coach.music.features import Curve, Rows

_D = len(INTERVALS)
_LOG = np.log(INTERVALS)
#: Neighbouring intervals that differ by up to this many frames are compared; beyond it lies the free jump.
_BAND = 12


@dataclass(frozen=True)
class Prices:
    """What the decoder weighs against each other; found on the development set.

    Parameters
    ----------
    beat, tempo, prior : float
        Weight of the onset at a beat, of the comb and of the preferred tempo, each per second.
    usual : float
        What an onset at a beat must exceed to be worth more than rest.
    change : float
        Price of a change of the interval, per unit of squared natural logarithm of the ratio.
    jump : float
        Price of any change at all, for cuts and steps of tempo.
    rest : float
        Price of leaving off and of taking up again, each.
    """

    beat: float = 1.0
    tempo: float = 0.3
    prior: float = 0.15
    usual: float = 0.45
    change: float = 60.0
    jump: float = 2.0
    rest: float = 0.5


class Decoded(NamedTuple):
    """The best row of beats.

    ``frames`` (n,) beats; ``intervals`` (n,) frames to the beat before, as the decoder sees the tempo; ``after_rest``
    (n,) whether a rest (or the beginning) comes before the beat; ``margin`` (n,) how much worse the best row without
    a beat here is; ``rivals`` (n, intervals) how much worse the best row with that interval here is.
    """

    frames: np.ndarray
    intervals: np.ndarray
    after_rest: np.ndarray
    margin: np.ndarray
    rivals: np.ndarray


def decode(beat: Curve, tempo: Rows, prior: np.ndarray, prices: Prices) -> Decoded:
    """Return the best row of beats.

    Parameters
    ----------
    beat : (n,) float32
        How much begins at each frame, about 0 to 1.
    tempo : (looks, intervals) float32
        How well each interval explains the onsets around each look.
    prior : (intervals,)
        How much each interval is preferred.
    prices : Prices

    Returns
    -------
    Decoded
    """
    worth = _Worth(beat, tempo, prior, prices)
    forward = _search_forward(worth)
    backward = _search_backward(worth)
    path = _trace_back(worth, forward)
    return _weigh(worth, forward, backward, *path)


class _Worth:
    """What each interval that ends at each frame is worth, and what changes cost."""

    def __init__(self, beat: Curve, tempo: Rows, prior: np.ndarray, prices: Prices) -> None:
        self.prices = prices
        self.frames = len(beat)
        # Rows before the first frame and after the last stand for times without music.
        self.onset = np.full(self.frames + 2 * _PAD, -prices.usual, dtype=np.float32)
        self.onset[_PAD : _PAD + self.frames] += beat
        self.onset *= prices.beat
        self.steady = (prices.tempo * tempo + prices.prior * prior).astype(np.float32)
        self.seconds = (INTERVALS / FRAME_HZ).astype(np.float32)
        shifts = np.arange(-_BAND, _BAND + 1)
        others = np.clip(INTERVALS[:, None] + shifts, 1, None)
        ratio = np.abs(np.log(others / INTERVALS[:, None])) - 0.5 / np.minimum(others, INTERVALS[:, None])
        self.change = (prices.change * np.maximum(ratio, 0) ** 2).astype(np.float32)

    def first(self, start: int, end: int) -> Rows:
        """Worth of a beat that follows a rest, for padded frames ``start`` to ``end - 1``."""
        worth: Rows = self.onset[start:end, None] * self.seconds
        return worth

    def next(self, start: int, end: int) -> Rows:
        """Worth of an interval that ends at padded frames ``start`` to ``end - 1``."""
        middles = np.arange(start, end)[:, None] - _PAD - INTERVALS // 2
        looks = np.clip(np.round(middles / LOOK_EVERY), 0, len(self.steady) - 1).astype(np.intp)
        worth: Rows = (self.onset[start:end, None] + self.steady[looks, np.arange(_D)]) * self.seconds
        return worth

    def changed(self, totals: Rows) -> Rows:
        """Return, for each row of totals by one interval, the best total by the neighbouring interval."""
        wide = np.full((len(totals), _D + 2 * _BAND), -np.inf, dtype=np.float32)
        wide[:, _BAND:-_BAND] = totals
        near = (sliding_window_view(wide, 2 * _BAND + 1, axis=1) - self.change).max(axis=2)
        best: Rows = np.maximum(near, totals.max(axis=1, keepdims=True) - np.float32(self.prices.jump))
        return best


_PAD = LONGEST
_NEVER = np.float32(-1e30)


class _Forward(NamedTuple):
    """Best totals of what ends at each padded frame: in a beat, by its interval; before a next beat; resting."""

    beat: Rows
    onward: Rows
    rested: Curve


def _search_forward(worth: _Worth) -> _Forward:
    size = worth.frames + 2 * _PAD
    beat = np.full((size, _D), _NEVER, dtype=np.float32)
    onward = np.full((size, _D), _NEVER, dtype=np.float32)
    rested = np.zeros(size, dtype=np.float32)
    columns = np.arange(_D)
    price = np.float32(worth.prices.rest)
    for start in range(_PAD, _PAD + worth.frames, SHORTEST):
        end = min(start + SHORTEST, _PAD + worth.frames)
        rows = np.arange(start, end)[:, None]
        by_interval = onward[rows - INTERVALS, columns] + worth.next(start, end)
        by_rest = (rested[start - SHORTEST : end - SHORTEST, None] - price) + worth.first(start, end)
        beat[start:end] = np.maximum(by_interval, by_rest)
        onward[start:end] = worth.changed(beat[start:end])
        left_off = np.maximum.accumulate(beat[start:end].max(axis=1) - price)
        rested[start:end] = np.maximum(rested[start - 1], left_off)
    return _Forward(beat, onward, rested)


class _Backward(NamedTuple):
    """Best totals of what follows a beat at each padded frame, by the interval before it; and of what follows rest."""

    beat: Rows
    rested: Curve


def _search_backward(worth: _Worth) -> _Backward:
    size = worth.frames + 2 * _PAD
    beat = np.full((size, _D), _NEVER, dtype=np.float32)
    arriving = np.full((size, _D), _NEVER, dtype=np.float32)
    rested = np.zeros(size, dtype=np.float32)
    columns = np.arange(_D)
    price = np.float32(worth.prices.rest)
    for end in range(_PAD + worth.frames, _PAD, -SHORTEST):
        start = max(end - SHORTEST, _PAD)
        rows = np.arange(start, end)[:, None]
        on = worth.changed(arriving[rows + INTERVALS, columns])
        off = np.maximum(rested[start + SHORTEST : end + SHORTEST] - price, 0)
        beat[start:end] = np.maximum(on, off[:, None])
        arriving[start:end] = beat[start:end] + worth.next(start, end)
        taken_up = (beat[start:end] + worth.first(start, end)).max(axis=1) - price
        later = np.maximum.accumulate(taken_up[::-1])[::-1]
        rested[start:end] = np.maximum(rested[end], later)
    return _Backward(beat, rested)


def _trace_back(worth: _Worth, forward: _Forward) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Return padded frames, interval indices and whether a rest comes before, of the best row."""
    ends = forward.beat.max(axis=1)
    at = int(ends.argmax())
    if ends[at] <= 0:
        nothing = np.zeros(0, dtype=np.intp)
        return nothing, nothing, nothing.astype(bool)
    column = int(forward.beat[at].argmax())
    row: list[tuple[int, int, bool]] = []
    while True:
        by_interval = forward.onward[at - INTERVALS[column], column] + worth.next(at, at + 1)[0, column]
        after_rest = bool(by_interval < forward.beat[at, column] - 1e-3)
        row.append((at, column, after_rest))
        if not after_rest:
            at -= int(INTERVALS[column])
            totals = forward.beat[at]
            first, last = max(0, column - _BAND), min(_D, column + _BAND + 1)
            near = np.full(_D, _NEVER, dtype=np.float32)
            near[first:last] = totals[first:last] - worth.change[column, first - column + _BAND : last - column + _BAND]
            column = int(np.maximum(near, totals - np.float32(worth.prices.jump)).argmax())
            continue
        rested = forward.rested[at - SHORTEST]
        if rested <= 0:
            break
        # The rest began at the earliest beat after which resting was worth as much.
        at = int(np.argmax(forward.rested[: at - SHORTEST + 1] >= rested))
        column = int(forward.beat[at].argmax())
    frames, columns, rests = zip(*row[::-1], strict=True)
    return np.array(frames), np.array(columns), np.array(rests)


#: A beat is another one when it lies further off than this (frames): the usual 70 ms.
_ELSEWHERE = 7


def _weigh(
    worth: _Worth,
    forward: _Forward,
    backward: _Backward,
    frames: np.ndarray,
    columns: np.ndarray,
    after_rest: np.ndarray,
) -> Decoded:
    """Compare the best row with the best one that has no beat here, and the best one of another interval here."""
    price = worth.prices.rest
    total = forward.beat.max()
    through = forward.beat + backward.beat
    lefts = np.maximum.accumulate(forward.beat.max(axis=1))
    margin = np.empty(len(frames))
    rivals = np.empty((len(frames), _D))
    steps = np.arange(1, LONGEST + 1)[:, None]
    # Rows that are entered from a rest are no intervals: count only what continues.
    for place, (frame, _) in enumerate(zip(frames, columns, strict=True)):
        ends = frame + _ELSEWHERE + steps[:, 0]
        ends = ends[ends < len(through)]
        spans = through[ends]
        across = steps[: len(ends)] + 2 * _ELSEWHERE <= INTERVALS
        best = float(np.where(across, spans, _NEVER).max(initial=_NEVER))
        silent_after = float(backward.rested[min(frame + _ELSEWHERE, len(lefts) - 1)])
        silent_before = max(0.0, float(lefts[frame - _ELSEWHERE]) - price)
        margin[place] = total - max(best, silent_before + silent_after, float(lefts[frame - _ELSEWHERE]))
        rivals[place] = total - through[frame - SHORTEST : frame + SHORTEST].max(axis=0)
    return Decoded(frames - _PAD, INTERVALS[columns], after_rest, np.maximum(margin, 0), rivals)
