"""Weights of the intervals between beats, and the costs of changing from one to the next.

An interval is worth its length times (what happens at its end, how well the tempo around it explains the onsets, how
usual the tempo is). Being worth by the second, slow and fast rows compete fairly. Between beats the music may rest,
which is worth nothing and has a price to enter and to leave.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view

from tempo_coach.music.beats.features import FRAME_HZ
from tempo_coach.music.beats.tempo import INTERVALS, LONGEST, LOOK_EVERY, SHORTEST

if TYPE_CHECKING:
    from tempo_coach.music.beats.features import Curve, Rows

#: Frames that stand before the first and after the last one for times without music: the longest interval.
PAD = LONGEST
#: A total so low that nothing builds on it.
NEVER = np.float32(-1e30)
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


class Worth:
    """What each interval that ends at each frame is worth, and what changes cost.

    Parameters
    ----------
    beat : (n,) float32
        How much begins at each frame, about 0 to 1.
    tempo : (looks, intervals) float32
        How well each interval explains the onsets around each look.
    prior : (intervals,)
        How much each interval is preferred.
    prices : Prices

    Attributes
    ----------
    frames : int
        n.
    onset : (n + 2 PAD,) float32
        What happens at each padded frame, beyond what is usual.
    """

    def __init__(self, beat: Curve, tempo: Rows, prior: np.ndarray, prices: Prices) -> None:
        self.prices = prices
        self.frames = len(beat)
        # Rows before the first frame and after the last stand for times without music.
        self.onset = np.full(self.frames + 2 * PAD, -prices.usual, dtype=np.float32)
        self.onset[PAD : PAD + self.frames] += beat
        self.onset *= prices.beat
        self._tempo = np.float32(prices.tempo) * tempo
        self._prior = (prices.prior * prior).astype(np.float32)
        self._busy = _find_busy(beat, prices.usual)
        self._seconds = (INTERVALS / FRAME_HZ).astype(np.float32)
        shifts = np.arange(-_BAND, _BAND + 1)
        others = np.clip(INTERVALS[:, None] + shifts, 1, None)
        ratio = np.abs(np.log(others / INTERVALS[:, None])) - 0.5 / np.minimum(others, INTERVALS[:, None])
        self._change = (prices.change * np.maximum(ratio, 0) ** 2).astype(np.float32)

    def after_rest(self, start: int, end: int) -> Rows:
        """Return what a beat after a rest is worth at padded frames ``start`` to ``end - 1``, (frames, intervals)."""
        # As short as any interval, so that going from rest to rest never pays.
        worth: Rows = np.broadcast_to(self.onset[start:end, None] * self._seconds[0], (end - start, len(INTERVALS)))
        return worth

    def after_beat(self, start: int, end: int) -> Rows:
        """Return what each interval is worth, ending at padded frames ``start`` to ``end - 1``, (frames, intervals)."""
        middles = np.clip(np.arange(start, end)[:, None] - PAD - INTERVALS // 2, 0, self.frames - 1)
        tempo = self._tempo[
            np.round(middles / LOOK_EVERY).astype(np.intp).clip(max=len(self._tempo) - 1), np.arange(len(INTERVALS))
        ]
        # Where nothing begins, a tempo that fits what is around is no reason for a beat; one that does not still
        # speaks against it.
        tempo = np.where(tempo > 0, tempo * self._busy[middles // SHORTEST], tempo)
        worth: Rows = (self.onset[start:end, None] + tempo + self._prior) * self._seconds
        return worth

    def changed(self, totals: Rows) -> Rows:
        """Return the best total with which each interval may be gone on by: another one's less the price of the change.

        Parameters
        ----------
        totals : (n, intervals) float32
            Best totals of what ends in each interval.
        """
        wide = np.full((len(totals), len(INTERVALS) + 2 * _BAND), -np.inf, dtype=np.float32)
        wide[:, _BAND:-_BAND] = totals
        near = (sliding_window_view(wide, 2 * _BAND + 1, axis=1) - self._change).max(axis=2)
        best: Rows = np.maximum(near, totals.max(axis=1, keepdims=True) - np.float32(self.prices.jump))
        return best

    def arrive(self, totals: Curve, column: int) -> int:
        """Return by which interval the best row came that goes on by the interval of a column.

        Parameters
        ----------
        totals : (intervals,) float32
            Best totals of what ends in each interval.
        column : int
            Place among the intervals.
        """
        first, last = max(0, column - _BAND), min(len(INTERVALS), column + _BAND + 1)
        near = np.full(len(INTERVALS), NEVER, dtype=np.float32)
        near[first:last] = totals[first:last] - self._change[column, first - column + _BAND : last - column + _BAND]
        return int(np.maximum(near, totals - np.float32(self.prices.jump)).argmax())


def _find_busy(beat: Curve, usual: float) -> Curve:
    """Return, for each quarter of a second, how far onsets stand out within the second and a half around it, 0 to 1."""
    bins = -(-len(beat) // SHORTEST)
    padded = np.full(bins * SHORTEST, -np.inf, dtype=np.float32)
    padded[: len(beat)] = beat
    loudest = np.pad(padded.reshape(bins, SHORTEST).max(axis=1), 3, constant_values=-np.inf)
    nearby = sliding_window_view(loudest, 7).max(axis=1)
    busy: Curve = np.clip(nearby / np.float32(1.5 * usual), 0, 1)
    return busy
