"""Downbeats from accents and harmony, by the likeliest sequence of bars."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from tempo_coach.music.beats.features import FRAME_HZ, TONE_EVERY

if TYPE_CHECKING:
    from tempo_coach.music.beats.features import Features, Matrix
    from tempo_coach.times import Floats, Ints

#: Metres that are tried where none is named.
_METRES_BY_ACCENT = (4, 3)
#: Penalty of a bar of another length than the metre, in units of strength.
_SLIP_PENALTY_BY_ACCENT = 3.0
#: Score of an impossible position.
NEVER = -1e9


def one_strength(times: Floats, features: Features) -> Floats:
    """Return the downbeat strength of each beat: low-band and overall flux, and harmonic change.

    Parameters
    ----------
    times : array, shape (n,)
        Beats in seconds.
    features : Features

    Returns
    -------
    array, shape (n,)
        Mean 0; about -2 to 2.
    """
    frames = np.clip(np.round(times * FRAME_HZ).astype(np.intp), 0, len(features.swell) - 1)
    around = np.clip(frames[:, None] + np.arange(-4, 5), 0, len(features.swell) - 1)
    low = features.onset[:, 0][around].max(axis=1)
    loud = features.onset.mean(axis=1)[around].max(axis=1)
    change = tone_changes(times, features.tones, FRAME_HZ / TONE_EVERY)
    total = np.zeros(len(times))
    for curve in (low, loud, change):
        spread = curve.std()
        if spread > 0:
            total += np.clip((curve - curve.mean()) / spread, -2, 2)
    return total / 3


def tone_changes(times: Floats, tones: Matrix, tones_hz: float, *, span: int = 1) -> Floats:
    """Return the harmonic change at each beat: the cosine distance of the chroma after it from that before, 0 to 1.

    Parameters
    ----------
    times : array, shape (n,)
        Beats in seconds.
    tones : array, shape (m, 12)
        Chroma.
    tones_hz : float
        Its rows a second.
    span : int
        Beats before, and beats after, that are compared.

    Returns
    -------
    array, shape (n,)

    Examples
    --------
    >>> tones = np.zeros((8, 12))
    >>> tones[:4, 0] = tones[4:, 7] = 1
    >>> tone_changes(np.array([0.0, 2.0, 4.0, 6.0]), tones, 1.0)
    array([0., 0., 1., 0.])
    """
    if len(times) < 2 or not len(tones):
        return np.zeros(len(times))
    edges = np.clip(np.append(times, 2 * times[-1] - times[-2]) * tones_hz, 0, len(tones))
    rows = np.minimum(edges.astype(np.intp), len(tones) - 1)
    total = np.concatenate([np.zeros((1, 12)), np.cumsum(tones, axis=0, dtype=np.float64)])
    by_beat = np.diff(total[rows] + (edges - rows)[:, None] * tones[rows], axis=0)
    around = np.cumsum(np.pad(by_beat, ((span + 1, span), (0, 0)), mode="edge"), axis=0)
    sums = around[span:] - around[:-span]
    old, new = sums[: len(times)], sums[span : len(times) + span]
    norm = np.linalg.norm(old, axis=1) * np.linalg.norm(new, axis=1)
    return np.where(norm > 0, 1 - (old * new).sum(axis=1) / np.where(norm > 0, norm, 1), 0)


#: Beats over which harmony is compared, and what a change that is one SD above the piece's mean adds to the log odds of
#: a one, for each: chosen on the development set and its further kinds, with as much again nothing is gained.
_SPANS, _BY_CHANGE = (1, 2, 4), 0.3
#: SDs beyond which a change speaks no louder, the SD that music with any harmony has, and how sure the network may be.
_LOUDEST, _LEAST, _SUREST = 2.5, 0.02, 0.99


def weigh_harmony(ones: Floats, times: Floats, tones: Matrix, tones_hz: float) -> Floats:
    """Return how likely each beat begins a bar, harmony included: chords change at bar lines (common practice).

    Parameters
    ----------
    ones : array, shape (n,)
        Probability without harmony.
    times, tones, tones_hz
        As :func:`tone_changes` takes them.

    Returns
    -------
    array, shape (n,)
    """
    likely = np.clip(ones, 1 - _SUREST, _SUREST)
    odds = np.log(likely / (1 - likely))
    for span in _SPANS if len(times) else ():
        change = tone_changes(times, tones, tones_hz, span=span)
        spread = max(float(change.std()), _LEAST)
        odds += _BY_CHANGE * np.clip((change - change.mean()) / spread, -_LOUDEST, _LOUDEST)
    return np.asarray(1 / (1 + np.exp(-odds)), np.float64)


def find_bars(strength: Floats, *, meter: int | None = None, one: int | None = None) -> Ints:
    """Return each beat's position in its bar, from 1.

    Parameters
    ----------
    strength : array, shape (n,)
        Downbeat strength, mean 0.
    meter : int or None
        Beats a bar; without it the likelier of four and three.
    one : int or None
        Index of a beat that is known to begin a bar.

    Returns
    -------
    array of int, shape (n,)
    """
    tried = [_bars_of(strength, each, one) for each in ((meter,) if meter else _METRES_BY_ACCENT)]
    return max(tried, key=lambda pair: pair[0])[1]


def _bars_of(strength: Floats, meter: int, one: int | None) -> tuple[float, Ints]:
    """Return the score of the best bars in one metre, comparable between metres, and their positions."""
    template = np.full(meter, -1 / max(1, meter - 1))
    template[0] = 1
    if meter == 4:
        template[:] = (1, -0.6, 0.1, -0.5)
    total, positions = follow_bars(strength[:, None] * template, one=one, penalty=_SLIP_PENALTY_BY_ACCENT)
    return total / (np.sqrt((template**2).mean() * max(len(strength), 1)) or 1.0), positions


def follow_bars(scores: Floats, *, one: int | None, penalty: float) -> tuple[float, Ints]:
    """Find the best sequence of positions in the bar (Viterbi).

    Parameters
    ----------
    scores : array, shape (n, meter)
        Log likelihood, or another additive score, of each position at each beat.
    one : int or None
        Index of a beat that is known to begin a bar.
    penalty : float
        Penalty of a bar of another length than the metre.

    Returns
    -------
    total : float
        Score of the sequence; 0 without beats.
    positions : array of int, shape (n,)
        From 1.

    Examples
    --------
    >>> follow_bars(np.array([[0.0, 1.0], [1.0, 0.0], [0.0, 1.0]]), one=None, penalty=4.0)
    (3.0, array([2, 1, 2]))
    """
    n, meter = scores.shape
    positions = np.zeros(n, dtype=np.int64)
    if not n:
        return 0.0, positions
    if one is not None:
        scores = scores.copy()
        scores[one, 1:] = NEVER
    came = np.zeros((n, meter), dtype=np.intp)
    total = scores[0]
    for beat in range(1, n):
        regular = np.roll(total, 1)
        best = int(total.argmax())
        slipped = total[best] - penalty
        came[beat] = np.where(regular >= slipped, (np.arange(meter) - 1) % meter, best)
        total = np.maximum(regular, slipped) + scores[beat]
    at = int(total.argmax())
    for beat in range(n - 1, -1, -1):
        positions[beat] = at + 1
        at = int(came[beat, at])
    return float(total.max()), positions
