"""Beats that are hard to hear: the probability that each one is wrong, from the network's output on and beside it."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from tempo_coach.music.beats.features import FRAME_HZ
from tempo_coach.music.beats.network import TEMPI
from tempo_coach.music.beats.tapped import median_intervals

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from tempo_coach.music.beats.features import Curve
    from tempo_coach.music.beats.network import Activations
    from tempo_coach.times import Floats, Ints

#: Log odds that a beat is wrong: of one that is as sure as can be, and what a whole unit adds of low confidence, of
#: another level that fits as well, of what is heard half-way and at the thirds between beats beside what is on them,
#: of the probability of its own tempo (where that is known and confidence low all the same, something is wrong; where
#: it bends, beats are right though hardly heard), and of the square of the octaves from ``_TYPICAL_BPM`` (what is heard
#: at the wrong level comes out near it). Fitted to 400 developing pieces.
_SURE, _WEAK, _LEVEL, _HALF_WAY, _THIRDS, _TEMPO, _FAR = -6.1, 5.0, 1.1, 1.5, 4.0, 2.2, -2.1
_TYPICAL_BPM = 100.0
#: Log odds from which on a beat is unsure: on the developing pieces that takes a fifth of the time and has 70 % of what
#: is wrong. On 96 that it was not chosen on it takes 16 % and has 56; with pieces that are told whole, for another
#: level fits as well, 21 % and 77.
_FROM = -2.8
#: Beats around each whose confidence, and whose surroundings, are averaged.
_NEAR, _WIDE = 9, 17
#: Least activation that others are compared with, and the most that they count; octaves within which tempi are one.
_FAINT, _MOST, _SAME_TEMPO = 0.1, 1.5, 0.1


def find_unsure(times: Floats, confidence: Floats, heard: Activations, *, other_level: bool) -> NDArray[np.bool_]:
    """Flag the stretches of beats that are likelier wrong than the rest, and worth tapping along to.

    Parameters
    ----------
    times, confidence : array, shape (n,)
        Beats in seconds, and 0 to 1 for each.
    heard : Activations
    other_level : bool
        Whether another tempo fits as well: half or twice, two thirds or one and a half times.

    Returns
    -------
    array of bool, shape (n,)
    """
    if len(times) < 2:
        return confidence < 1 / 2
    steps = np.append(np.diff(times), times[-1] - times[-2])
    on = np.maximum(_loudest(heard.beat, times, 2), _FAINT)
    half, *thirds = (
        np.minimum(_loudest(heard.beat, times + part * steps, 3) / on, _MOST) for part in (1 / 2, 1 / 3, 2 / 3)
    )
    bpm = 60 / np.append(median_intervals(times), steps[-1])[: len(times)]
    alike = np.abs(np.log2(TEMPI / bpm[:, None])) < _SAME_TEMPO
    own = np.where(alike, heard.tempo[_frames(times, len(heard.tempo))], 0).sum(axis=1)
    odds = (
        _SURE
        + _WEAK * (1 - _average(confidence, _NEAR))
        + _LEVEL * other_level
        + _HALF_WAY * _average(half, _WIDE)
        + _THIRDS * _average(np.maximum(*thirds), _WIDE)
        + _TEMPO * _average(own, _WIDE)
        + _FAR * float(np.log2(60 / np.median(np.diff(times)) / _TYPICAL_BPM)) ** 2
    )
    return np.asarray(odds > _FROM)


def _frames(seconds: Floats, size: int) -> Ints:
    return np.clip(np.round(seconds * FRAME_HZ).astype(np.int64), 0, size - 1)


def _loudest(curve: Curve, seconds: Floats, reach: int) -> Floats:
    """Return the maximum of a curve within a number of frames of each time."""
    around = np.clip(_frames(seconds, len(curve))[:, None] + np.arange(-reach, reach + 1), 0, len(curve) - 1)
    return np.asarray(curve[around].max(axis=1), np.float64)


def _average(values: Floats, over: int) -> Floats:
    """Return the moving average of values; the last one is repeated beyond either end."""
    return np.convolve(np.pad(values, over // 2, mode="edge"), np.full(over, 1 / over), mode="valid")
