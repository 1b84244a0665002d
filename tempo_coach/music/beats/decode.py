"""The most likely sequence of beats: a semi-Markov Viterbi search over beat time and interval.

The score of a path is the sum of its interval scores less a penalty for each change of interval; both are in
:mod:`tempo_coach.music.beats.scoring`. Forward and backward passes give each beat's margin: the score lost by the best
path that does without it.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from tempo_coach.music.beats.scoring import NEVER, PAD, IntervalScores
from tempo_coach.music.beats.tempo import INTERVALS, LONGEST, LOOK_EVERY, SHORTEST

if TYPE_CHECKING:
    from tempo_coach.music.beats.features import Curve, Matrix
    from tempo_coach.music.beats.scoring import Scoring

_NUMBER = len(INTERVALS)


class Decoded(NamedTuple):
    """The best path.

    Attributes
    ----------
    frames : (n,)
        Beats, in frames.
    intervals : (n,)
        Decoded interval before each beat, in frames.
    after_rest : (n,) of bool
        True where a rest or the beginning of the music comes before the beat.
    margin : (n,)
        Score lost by the best path without a beat here, 0 or more.
    rivals : (n, intervals)
        Score lost by the best path with that interval here.
    """

    frames: np.ndarray
    intervals: np.ndarray
    after_rest: np.ndarray
    margin: np.ndarray
    rivals: np.ndarray


def decode(beat: Curve, tempo: Matrix, prior: np.ndarray, scoring: Scoring) -> Decoded:
    """Find the most likely sequence of beats.

    Parameters
    ----------
    beat : (n,) float32
        Onset strength or beat activation by frame, about 0 to 1.
    tempo : (looks, intervals) float32
        Tempogram: evidence for each interval around each look.
    prior : (intervals,)
        Log prior of each interval, at most 0.
    scoring : Scoring

    Returns
    -------
    Decoded

    Notes
    -----
    Music is decoded in blocks of five minutes with an overlap of one minute, so memory is bounded.
    """
    pieces = [
        _decode_piece(beat, tempo, prior, scoring, start=start, end=min(start + _PIECE, len(beat)))
        for start in range(0, max(1, len(beat)), _PIECE)
    ]
    joined = [pieces[0]]
    for piece in pieces[1:]:
        last = next((each.frames[-1] for each in reversed(joined) if len(each.frames)), -LONGEST)
        keep = piece.frames - last > piece.intervals / 2
        joined.append(Decoded(*(values[keep] for values in piece)))
    return Decoded(*(np.concatenate(values) for values in zip(*joined, strict=True)))


#: Frames of one block, and of its overlap on either side.
_PIECE, _OVERLAP = 30_000, 6_000


def _decode_piece(beat: Curve, tempo: Matrix, prior: np.ndarray, scoring: Scoring, *, start: int, end: int) -> Decoded:
    """Return the beats from ``start`` to ``end - 1``, decoded with the overlap around them."""
    first, last = max(0, start - _OVERLAP), min(len(beat), end + _OVERLAP)
    looks = tempo[first // LOOK_EVERY : last // LOOK_EVERY + 1]
    found = _decode_whole(beat[first:last], looks, prior, scoring)
    inside = (found.frames >= start - first) & (found.frames < end - first)
    kept = Decoded(*(values[inside] for values in found))
    return kept._replace(frames=kept.frames + first)


def _decode_whole(beat: Curve, tempo: Matrix, prior: np.ndarray, scoring: Scoring) -> Decoded:
    scores = IntervalScores(beat, tempo, prior, scoring)
    forward = _search_forward(scores)
    backward = _search_backward(scores)
    path = _trace_back(scores, forward)
    return _weigh(scores, forward, backward, *path)


class _Forward(NamedTuple):
    """Best score of the paths up to each padded frame: ending on a beat, by interval; between beats; in a rest."""

    beat: Matrix
    onward: Matrix
    rested: Curve


def _search_forward(scores: IntervalScores) -> _Forward:
    size = scores.frames + 2 * PAD
    beat = np.full((size, _NUMBER), NEVER, dtype=np.float32)
    onward = np.full((size, _NUMBER), NEVER, dtype=np.float32)
    rested = np.zeros(size, dtype=np.float32)
    columns = np.arange(_NUMBER)
    penalty = np.float32(scores.scoring.rest)
    for start in range(PAD, PAD + scores.frames, SHORTEST):
        end = min(start + SHORTEST, PAD + scores.frames)
        rows = np.arange(start, end)[:, None]
        by_interval = onward[rows - INTERVALS, columns] + scores.after_beat(start, end)
        by_rest = (rested[start - SHORTEST : end - SHORTEST, None] - penalty) + scores.after_rest(start, end)
        beat[start:end] = np.maximum(by_interval, by_rest)
        onward[start:end] = scores.changed(beat[start:end])
        left_off = np.maximum.accumulate(beat[start:end].max(axis=1) - penalty)
        rested[start:end] = np.maximum(rested[start - 1], left_off)
    return _Forward(beat, onward, rested)


class _Backward(NamedTuple):
    """Best score of the paths from each padded frame on: after a beat, by the interval before it; after a rest."""

    beat: Matrix
    rested: Curve


def _search_backward(scores: IntervalScores) -> _Backward:
    size = scores.frames + 2 * PAD
    beat = np.full((size, _NUMBER), NEVER, dtype=np.float32)
    arriving = np.full((size, _NUMBER), NEVER, dtype=np.float32)
    rested = np.zeros(size, dtype=np.float32)
    columns = np.arange(_NUMBER)
    penalty = np.float32(scores.scoring.rest)
    for end in range(PAD + scores.frames, PAD, -SHORTEST):
        start = max(end - SHORTEST, PAD)
        rows = np.arange(start, end)[:, None]
        on = scores.changed(arriving[rows + INTERVALS, columns])
        off = np.maximum(rested[start + SHORTEST : end + SHORTEST] - penalty, 0)
        beat[start:end] = np.maximum(on, off[:, None])
        arriving[start:end] = beat[start:end] + scores.after_beat(start, end)
        taken_up = (beat[start:end] + scores.after_rest(start, end)).max(axis=1) - penalty
        later = np.maximum.accumulate(taken_up[::-1])[::-1]
        rested[start:end] = np.maximum(rested[end], later)
    return _Backward(beat, rested)


def _trace_back(scores: IntervalScores, forward: _Forward) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Return the padded frames, interval indices and rest flags of the best path."""
    ends = forward.beat.max(axis=1)
    at = int(ends.argmax())
    if ends[at] <= 0:
        nothing = np.zeros(0, dtype=np.intp)
        return nothing, nothing, nothing.astype(bool)
    column = int(forward.beat[at].argmax())
    path: list[tuple[int, int, bool]] = []
    while True:
        by_interval = forward.onward[at - INTERVALS[column], column] + scores.after_beat(at, at + 1)[0, column]
        after_rest = bool(by_interval < forward.beat[at, column] - 1e-3)
        path.append((at, column, after_rest))
        if not after_rest:
            at -= int(INTERVALS[column])
            column = scores.arrive(forward.beat[at], column)
            continue
        rested = forward.rested[at - SHORTEST]
        if rested <= 0:
            break
        # The rest began at the earliest beat after which resting scored as much.
        at = int(np.argmax(forward.rested[: at - SHORTEST + 1] >= rested))
        column = int(forward.beat[at].argmax())
    frames, columns, rests = zip(*path[::-1], strict=True)
    return _leave_out_silent_edges(scores, np.array(frames), np.array(columns), np.array(rests))


#: Beats of a run from which on its typical strength is known.
_TYPICAL_FROM = 6


def _leave_out_silent_edges(
    scores: IntervalScores, frames: np.ndarray, columns: np.ndarray, rests: np.ndarray
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Drop beats without an onset at either end of a run: tempo alone would extend it into silence.

    An onset is one's own beside the median of every second beat of the run: weak beats may alternate with strong ones.
    """
    onset = scores.onset[frames[:, None] + np.arange(-3, 4)].max(axis=1)
    strength = onset / scores.scoring.beat + scores.scoring.threshold
    kept = np.ones(len(frames), dtype=bool)
    after_rest = rests.copy()
    for run in np.split(np.arange(len(frames)), np.flatnonzero(rests)[1:]):
        heard = onset[run] > 0
        if len(run) >= _TYPICAL_FROM:
            for side in (slice(0, None, 2), slice(1, None, 2)):
                heard[side] &= strength[run][side] >= scores.scoring.edge * np.median(strength[run][side])
        loud = run[heard]
        kept[run] = (run >= loud[0]) & (run <= loud[-1]) if len(loud) else False
        if len(loud):
            after_rest[loud[0]] = True
    return frames[kept], columns[kept], after_rest[kept]


#: Frames by which another beat must differ: 70 ms, the window of the F-measure for beats (MIREX, mir_eval).
_ELSEWHERE = 7


def _weigh(
    scores: IntervalScores,
    forward: _Forward,
    backward: _Backward,
    frames: np.ndarray,
    columns: np.ndarray,
    after_rest: np.ndarray,
) -> Decoded:
    """Compare the best path with the best ones without each beat, and with another interval at it."""
    penalty = scores.scoring.rest
    total = forward.beat.max()
    best_until = np.maximum.accumulate(forward.beat.max(axis=1))
    margin = np.empty(len(frames))
    rivals = np.empty((len(frames), _NUMBER))
    for place, frame in enumerate(frames):
        start, end = int(frame) - SHORTEST, min(int(frame) + _ELSEWHERE + LONGEST, scores.frames + PAD)
        rows = np.arange(start, end)[:, None]
        # Best paths through each interval that ends at each frame.
        begun = np.maximum(rows - INTERVALS, 0)
        spans = forward.onward[begun, np.arange(_NUMBER)] + scores.after_beat(start, end) + backward.beat[start:end]
        across = (rows > frame + _ELSEWHERE) & (rows - INTERVALS < frame - _ELSEWHERE)
        before = float(best_until[max(0, frame - _ELSEWHERE)])
        after = float(backward.rested[min(int(frame) + _ELSEWHERE, len(best_until) - 1)])
        silent = max(before, max(0.0, before - penalty) + after)
        margin[place] = total - max(float(np.where(across, spans, NEVER).max()), silent)
        rivals[place] = total - spans[: 2 * SHORTEST].max(axis=0)
    return Decoded(frames - PAD, INTERVALS[columns], after_rest, np.maximum(margin, 0), rivals)
