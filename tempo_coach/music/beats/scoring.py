"""Scores of beat intervals, and penalties for changing from one to the next.

The score of an interval is its length in seconds times the sum of onset strength at its end, tempogram and tempo prior.
Scoring by the second keeps slow and fast paths comparable. A rest between beats scores 0; entering and leaving it
are penalised.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view

from tempo_coach.music.beats.features import FRAME_HZ
from tempo_coach.music.beats.tempo import INTERVALS, LONGEST, LOOK_EVERY, SHORTEST

if TYPE_CHECKING:
    from tempo_coach.music.beats.features import Curve, Matrix

#: Frames that stand before the first and after the last one for times without music: the longest interval.
PAD = LONGEST
#: Log score of the impossible.
NEVER = np.float32(-1e30)
#: Frames by which an interval may drift at the quadratic penalty; beyond it only the jump is possible.
_BAND = 12
#: Frames whose intervals are scored at once.
_AT_ONCE = 1024


@dataclass(frozen=True)
class Scoring:
    """Weights and penalties of the decoder; tuned on the development set.

    Parameters
    ----------
    beat, tempo, prior : float
        Weights of onset strength, tempogram and tempo prior, per second.
    threshold : float
        Onset strength above which a beat scores more than a rest.
    change : float
        Penalty of a change of interval, per squared log ratio.
    jump : float
        Penalty of a change of any size, for cuts and steps of tempo.
    rest : float
        Penalty of entering a rest, and of leaving it.
    prior_bpm, octaves : float
        Median and SD (in octaves) of the tempo prior.
    sure : float
        Margin at which the confidence of a beat is 1 - 1/e.
    edge : float
        Part of the strength of its like that the first and the last beat beside a rest have to have.
    """

    beat: float = 1.0
    tempo: float = 2.0
    prior: float = 0.3
    threshold: float = 0.66
    change: float = 45.0
    jump: float = 2.0
    rest: float = 1.0
    prior_bpm: float = 143.0
    octaves: float = 0.48
    sure: float = 2.0
    edge: float = 0.0


class IntervalScores:
    """Scores of the intervals that end at each frame.

    Parameters
    ----------
    beat : (n,) float32
        Onset strength or beat activation by frame, about 0 to 1.
    tempo : (looks, intervals) float32
        Tempogram.
    prior : (intervals,)
        Log prior of each interval.
    scoring : Scoring

    Attributes
    ----------
    frames : int
        n.
    onset : (n + 2 PAD,) float32
        Weighted onset strength above the threshold, padded.
    """

    def __init__(self, beat: Curve, tempo: Matrix, prior: np.ndarray, scoring: Scoring) -> None:
        self.scoring = scoring
        self.frames = len(beat)
        # Rows before the first frame and after the last stand for times without music.
        self.onset = np.full(self.frames + 2 * PAD, -scoring.threshold, dtype=np.float32)
        self.onset[PAD : PAD + self.frames] += beat
        self.onset *= scoring.beat
        self._prior = (scoring.prior * prior).astype(np.float32)
        self._seconds = (INTERVALS / FRAME_HZ).astype(np.float32)
        weighted, busy = np.float32(scoring.tempo) * tempo, _find_busy(beat, scoring.threshold)
        self._after_beat = np.empty((self.frames + 2 * PAD, len(INTERVALS)), dtype=np.float32)
        for start in range(0, len(self._after_beat), _AT_ONCE):
            end = min(start + _AT_ONCE, len(self._after_beat))
            self._after_beat[start:end] = self._score_intervals(start, end, weighted, busy)
        shifts = np.arange(-_BAND, _BAND + 1)
        others = np.clip(INTERVALS[:, None] + shifts, 1, None)
        ratio = np.abs(np.log(others / INTERVALS[:, None])) - 0.5 / np.minimum(others, INTERVALS[:, None])
        self._change = (scoring.change * np.maximum(ratio, 0) ** 2).astype(np.float32)
        self._change_by_shift = np.ascontiguousarray(self._change.T)[:, None]

    def after_rest(self, start: int, end: int) -> Matrix:
        """Return scores of a beat after a rest at padded frames ``start`` to ``end - 1``, (frames, intervals)."""
        # As short as any interval, so that going from rest to rest never pays.
        scores: Matrix = np.broadcast_to(self.onset[start:end, None] * self._seconds[0], (end - start, len(INTERVALS)))
        return scores

    def after_beat(self, start: int, end: int) -> Matrix:
        """Return scores of the intervals that end at padded frames ``start`` to ``end - 1``, (frames, intervals)."""
        scores: Matrix = self._after_beat[start:end]
        return scores

    def _score_intervals(self, start: int, end: int, tempo: Matrix, busy: Curve) -> Matrix:
        middles = np.clip(np.arange(start, end)[:, None] - PAD - INTERVALS // 2, 0, self.frames - 1)
        looks = np.round(middles / LOOK_EVERY).astype(np.intp).clip(max=len(tempo) - 1)
        fitting = tempo[looks, np.arange(len(INTERVALS))]
        # Where nothing begins, a tempo that fits what is around is no reason for a beat; one that does not still
        # speaks against it.
        fitting = np.where(fitting > 0, fitting * busy[middles // SHORTEST], fitting)
        scores: Matrix = (self.onset[start:end, None] + fitting + self._prior) * self._seconds
        return scores

    def changed(self, totals: Matrix) -> Matrix:
        """Return the best score before a next interval: the maximum over intervals, less the penalty of the change.

        Parameters
        ----------
        totals : (n, intervals) float32
            Best score of the paths that end in each interval.
        """
        wide = np.full((len(totals), len(INTERVALS) + 2 * _BAND), -np.inf, dtype=np.float32)
        wide[:, _BAND:-_BAND] = totals
        shifted = sliding_window_view(wide, len(INTERVALS), axis=1).transpose(1, 0, 2)
        near = (shifted - self._change_by_shift).max(axis=0)  # shifts outside: some times faster
        best: Matrix = np.maximum(near, totals.max(axis=1, keepdims=True) - np.float32(self.scoring.jump))
        return best

    def arrive(self, totals: Curve, column: int) -> int:
        """Return the index of the best interval before a given one (the back pointer).

        Parameters
        ----------
        totals : (intervals,) float32
            Best score of the paths that end in each interval.
        column : int
            Index of the given interval.
        """
        first, last = max(0, column - _BAND), min(len(INTERVALS), column + _BAND + 1)
        near = np.full(len(INTERVALS), NEVER, dtype=np.float32)
        near[first:last] = totals[first:last] - self._change[column, first - column + _BAND : last - column + _BAND]
        return int(np.maximum(near, totals - np.float32(self.scoring.jump)).argmax())


def _find_busy(beat: Curve, threshold: float) -> Curve:
    """Return the maximum onset strength within 1.75 s, every quarter of a second, scaled to 0 to 1."""
    bins = -(-len(beat) // SHORTEST)
    padded = np.full(bins * SHORTEST, -np.inf, dtype=np.float32)
    padded[: len(beat)] = beat
    loudest = np.pad(padded.reshape(bins, SHORTEST).max(axis=1), 3, constant_values=-np.inf)
    nearby = sliding_window_view(loudest, 7).max(axis=1)
    busy: Curve = np.clip(nearby / np.float32(1.5 * threshold), 0, 1)
    return busy
