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
    usual_bpm, octaves : float
        The preferred tempo and the SD about it.
    sure : float
        The margin that makes a beat sure by 1 - 1/e.
    """

    beat: float = 1.0
    tempo: float = 2.0
    prior: float = 0.3
    usual: float = 0.66
    change: float = 45.0
    jump: float = 2.0
    rest: float = 1.0
    usual_bpm: float = 143.0
    octaves: float = 0.48
    sure: float = 2.0


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

    Notes
    -----
    Long music is decoded in pieces of ten minutes, each with a minute of its neighbours, so that memory is bounded.
    """
    pieces = [
        _decode_piece(beat, tempo, prior, prices, start=start, end=min(start + _PIECE, len(beat)))
        for start in range(0, max(1, len(beat)), _PIECE)
    ]
    joined = [pieces[0]]
    for piece in pieces[1:]:
        last = next((each.frames[-1] for each in reversed(joined) if len(each.frames)), -LONGEST)
        keep = piece.frames - last > piece.intervals / 2
        joined.append(Decoded(*(values[keep] for values in piece)))
    return Decoded(*(np.concatenate(values) for values in zip(*joined, strict=True)))


#: Frames decoded at a time, and of the neighbours on either side.
_PIECE, _BESIDE = 60_000, 6_000


def _decode_piece(beat: Curve, tempo: Rows, prior: np.ndarray, prices: Prices, *, start: int, end: int) -> Decoded:
    """Return the beats from ``start`` to ``end - 1``, found with what lies beside."""
    first, last = max(0, start - _BESIDE), min(len(beat), end + _BESIDE)
    looks = tempo[first // LOOK_EVERY : last // LOOK_EVERY + 1]
    found = _decode_whole(beat[first:last], looks, prior, prices)
    inside = (found.frames >= start - first) & (found.frames < end - first)
    kept = Decoded(*(values[inside] for values in found))
    return kept._replace(frames=kept.frames + first)


def _decode_whole(beat: Curve, tempo: Rows, prior: np.ndarray, prices: Prices) -> Decoded:
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
        self.tempo = np.float32(prices.tempo) * tempo
        self.prior = (prices.prior * prior).astype(np.float32)
        self.busy = _find_busy(beat, prices.usual)
        self.seconds = (INTERVALS / FRAME_HZ).astype(np.float32)
        shifts = np.arange(-_BAND, _BAND + 1)
        others = np.clip(INTERVALS[:, None] + shifts, 1, None)
        ratio = np.abs(np.log(others / INTERVALS[:, None])) - 0.5 / np.minimum(others, INTERVALS[:, None])
        self.change = (prices.change * np.maximum(ratio, 0) ** 2).astype(np.float32)

    def first(self, start: int, end: int) -> Rows:
        """Worth of a beat that follows a rest, for padded frames ``start`` to ``end - 1``."""
        # As short as any interval, so that going from rest to rest never pays.
        worth: Rows = np.broadcast_to(self.onset[start:end, None] * self.seconds[0], (end - start, _D))
        return worth

    def next(self, start: int, end: int) -> Rows:
        """Worth of an interval that ends at padded frames ``start`` to ``end - 1``."""
        middles = np.clip(np.arange(start, end)[:, None] - _PAD - INTERVALS // 2, 0, self.frames - 1)
        tempo = self.tempo[np.round(middles / LOOK_EVERY).astype(np.intp).clip(max=len(self.tempo) - 1), np.arange(_D)]
        # Where nothing begins, a tempo that fits what is around is no reason for a beat; one that does not still
        # speaks against it.
        tempo = np.where(tempo > 0, tempo * self.busy[middles // SHORTEST], tempo)
        worth: Rows = (self.onset[start:end, None] + tempo + self.prior) * self.seconds
        return worth

    def changed(self, totals: Rows) -> Rows:
        """Return, for each row of totals by one interval, the best total by the neighbouring interval."""
        wide = np.full((len(totals), _D + 2 * _BAND), -np.inf, dtype=np.float32)
        wide[:, _BAND:-_BAND] = totals
        near = (sliding_window_view(wide, 2 * _BAND + 1, axis=1) - self.change).max(axis=2)
        best: Rows = np.maximum(near, totals.max(axis=1, keepdims=True) - np.float32(self.prices.jump))
        return best


def _find_busy(beat: Curve, usual: float) -> Curve:
    """Return, for each quarter of a second, how far onsets stand out within the second and a half around it, 0 to 1."""
    bins = -(-len(beat) // SHORTEST)
    padded = np.full(bins * SHORTEST, -np.inf, dtype=np.float32)
    padded[: len(beat)] = beat
    loudest = np.pad(padded.reshape(bins, SHORTEST).max(axis=1), 3, constant_values=-np.inf)
    nearby = sliding_window_view(loudest, 7).max(axis=1)
    busy: Curve = np.clip(nearby / np.float32(1.5 * usual), 0, 1)
    return busy


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
    return _leave_out_silent_edges(worth, np.array(frames), np.array(columns), np.array(rests))


def _leave_out_silent_edges(
    worth: _Worth, frames: np.ndarray, columns: np.ndarray, rests: np.ndarray
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Leave out beats beside a rest at which nothing begins: a steady tempo alone would run on into silence."""
    heard = np.array([worth.onset[frame - 3 : frame + 4].max() > 0 for frame in frames])
    kept = np.ones(len(frames), dtype=bool)
    after_rest = rests.copy()
    for run in np.split(np.arange(len(frames)), np.flatnonzero(rests)[1:]):
        loud = run[heard[run]]
        kept[run] = (run >= loud[0]) & (run <= loud[-1]) if len(loud) else False
        if len(loud):
            after_rest[loud[0]] = True
    return frames[kept], columns[kept], after_rest[kept]


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
    lefts = np.maximum.accumulate(forward.beat.max(axis=1))
    margin = np.empty(len(frames))
    rivals = np.empty((len(frames), _D))
    for place, frame in enumerate(frames):
        start, end = int(frame) - SHORTEST, min(int(frame) + _ELSEWHERE + LONGEST, worth.frames + _PAD)
        rows = np.arange(start, end)[:, None]
        # Best rows of beats that hold the interval which ends at each frame.
        begun = np.maximum(rows - INTERVALS, 0)
        spans = forward.onward[begun, np.arange(_D)] + worth.next(start, end) + backward.beat[start:end]
        across = (rows > frame + _ELSEWHERE) & (rows - INTERVALS < frame - _ELSEWHERE)
        before = float(lefts[max(0, frame - _ELSEWHERE)])
        after = float(backward.rested[min(int(frame) + _ELSEWHERE, len(lefts) - 1)])
        silent = max(before, max(0.0, before - price) + after)
        margin[place] = total - max(float(np.where(across, spans, _NEVER).max()), silent)
        rivals[place] = total - spans[: 2 * SHORTEST].max(axis=0)
    return Decoded(frames - _PAD, INTERVALS[columns], after_rest, np.maximum(margin, 0), rivals)
