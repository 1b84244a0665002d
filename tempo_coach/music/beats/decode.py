"""The most likely row of beats: a semi-Markov search over the time of each beat and the interval before it.

A row of beats is worth the sum of its intervals, less the prices of changing from one to the next; what an interval is
worth is in :mod:`tempo_coach.music.beats.weights`. The search goes forward and backward, so that each beat of the best
row can be weighed against the best row without it.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from tempo_coach.music.beats.tempo import INTERVALS, LONGEST, LOOK_EVERY, SHORTEST
from tempo_coach.music.beats.weights import NEVER, PAD, Worth

if TYPE_CHECKING:
    from tempo_coach.music.beats.features import Curve, Rows
    from tempo_coach.music.beats.weights import Prices

_NUMBER = len(INTERVALS)


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
    worth = Worth(beat, tempo, prior, prices)
    forward = _search_forward(worth)
    backward = _search_backward(worth)
    path = _trace_back(worth, forward)
    return _weigh(worth, forward, backward, *path)


class _Forward(NamedTuple):
    """Best totals of what ends at each padded frame: in a beat, by its interval; before a next beat; resting."""

    beat: Rows
    onward: Rows
    rested: Curve


def _search_forward(worth: Worth) -> _Forward:
    size = worth.frames + 2 * PAD
    beat = np.full((size, _NUMBER), NEVER, dtype=np.float32)
    onward = np.full((size, _NUMBER), NEVER, dtype=np.float32)
    rested = np.zeros(size, dtype=np.float32)
    columns = np.arange(_NUMBER)
    price = np.float32(worth.prices.rest)
    for start in range(PAD, PAD + worth.frames, SHORTEST):
        end = min(start + SHORTEST, PAD + worth.frames)
        rows = np.arange(start, end)[:, None]
        by_interval = onward[rows - INTERVALS, columns] + worth.after_beat(start, end)
        by_rest = (rested[start - SHORTEST : end - SHORTEST, None] - price) + worth.after_rest(start, end)
        beat[start:end] = np.maximum(by_interval, by_rest)
        onward[start:end] = worth.changed(beat[start:end])
        left_off = np.maximum.accumulate(beat[start:end].max(axis=1) - price)
        rested[start:end] = np.maximum(rested[start - 1], left_off)
    return _Forward(beat, onward, rested)


class _Backward(NamedTuple):
    """Best totals of what follows a beat at each padded frame, by the interval before it; and of what follows rest."""

    beat: Rows
    rested: Curve


def _search_backward(worth: Worth) -> _Backward:
    size = worth.frames + 2 * PAD
    beat = np.full((size, _NUMBER), NEVER, dtype=np.float32)
    arriving = np.full((size, _NUMBER), NEVER, dtype=np.float32)
    rested = np.zeros(size, dtype=np.float32)
    columns = np.arange(_NUMBER)
    price = np.float32(worth.prices.rest)
    for end in range(PAD + worth.frames, PAD, -SHORTEST):
        start = max(end - SHORTEST, PAD)
        rows = np.arange(start, end)[:, None]
        on = worth.changed(arriving[rows + INTERVALS, columns])
        off = np.maximum(rested[start + SHORTEST : end + SHORTEST] - price, 0)
        beat[start:end] = np.maximum(on, off[:, None])
        arriving[start:end] = beat[start:end] + worth.after_beat(start, end)
        taken_up = (beat[start:end] + worth.after_rest(start, end)).max(axis=1) - price
        later = np.maximum.accumulate(taken_up[::-1])[::-1]
        rested[start:end] = np.maximum(rested[end], later)
    return _Backward(beat, rested)


def _trace_back(worth: Worth, forward: _Forward) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Return padded frames, interval indices and whether a rest comes before, of the best row."""
    ends = forward.beat.max(axis=1)
    at = int(ends.argmax())
    if ends[at] <= 0:
        nothing = np.zeros(0, dtype=np.intp)
        return nothing, nothing, nothing.astype(bool)
    column = int(forward.beat[at].argmax())
    row: list[tuple[int, int, bool]] = []
    while True:
        by_interval = forward.onward[at - INTERVALS[column], column] + worth.after_beat(at, at + 1)[0, column]
        after_rest = bool(by_interval < forward.beat[at, column] - 1e-3)
        row.append((at, column, after_rest))
        if not after_rest:
            at -= int(INTERVALS[column])
            column = worth.arrive(forward.beat[at], column)
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
    worth: Worth, frames: np.ndarray, columns: np.ndarray, rests: np.ndarray
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
    worth: Worth,
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
    rivals = np.empty((len(frames), _NUMBER))
    for place, frame in enumerate(frames):
        start, end = int(frame) - SHORTEST, min(int(frame) + _ELSEWHERE + LONGEST, worth.frames + PAD)
        rows = np.arange(start, end)[:, None]
        # Best rows of beats that hold the interval which ends at each frame.
        begun = np.maximum(rows - INTERVALS, 0)
        spans = forward.onward[begun, np.arange(_NUMBER)] + worth.after_beat(start, end) + backward.beat[start:end]
        across = (rows > frame + _ELSEWHERE) & (rows - INTERVALS < frame - _ELSEWHERE)
        before = float(lefts[max(0, frame - _ELSEWHERE)])
        after = float(backward.rested[min(int(frame) + _ELSEWHERE, len(lefts) - 1)])
        silent = max(before, max(0.0, before - price) + after)
        margin[place] = total - max(float(np.where(across, spans, NEVER).max()), silent)
        rivals[place] = total - spans[: 2 * SHORTEST].max(axis=0)
    return Decoded(frames - PAD, INTERVALS[columns], after_rest, np.maximum(margin, 0), rivals)
