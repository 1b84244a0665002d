"""Which beats begin a bar: a second, small search over positions in the bar."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from tempo_coach.music.features import FRAME_HZ

if TYPE_CHECKING:
    from tempo_coach.music.features import Features
    from tempo_coach.times import Floats, Ints

#: Metres that are tried where none is named.
METRES = (4, 3)
#: Price of a bar that is not as long as the metre says.
_SLIP = 3.0


def one_strength(times: Floats, features: Features) -> Floats:
    """Return how much each beat stands out as the first of a bar: deep tones begin and the harmony changes.

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
    change = _tone_change(times, features)
    total = np.zeros(len(times))
    for curve in (low, loud, change):
        spread = curve.std()
        if spread > 0:
            total += np.clip((curve - curve.mean()) / spread, -2, 2)
    return total / 3


def _tone_change(times: Floats, features: Features) -> Floats:
    """Return how different the tones after each beat are from those before it, 0 to 1."""
    rows_hz = FRAME_HZ / 10
    total = np.concatenate([np.zeros((1, 12)), np.cumsum(features.tones, axis=0)])
    edges = np.clip(np.round(times * rows_hz).astype(np.intp), 0, len(features.tones))
    before = np.concatenate([[max(0, 2 * edges[0] - edges[1])], edges[:-1]]) if len(edges) > 1 else edges
    after = (
        np.concatenate([edges[1:], [min(len(features.tones), 2 * edges[-1] - edges[-2])]]) if len(edges) > 1 else edges
    )
    old, new = total[edges] - total[before], total[after] - total[edges]
    norm = np.linalg.norm(old, axis=1) * np.linalg.norm(new, axis=1)
    return np.where(norm > 0, 1 - (old * new).sum(axis=1) / np.where(norm > 0, norm, 1), 0)


def find_bars(strength: Floats, *, meter: int | None = None, one: int | None = None) -> Ints:
    """Return each beat's position in its bar, from 1.

    Parameters
    ----------
    strength : (n,)
        How much each beat stands out as the first of a bar, mean 0.
    meter : int or None
        Beats a bar; without it the likelier of four and three.
    one : int or None
        Index of a beat that is known to begin a bar.
    """
    tried = [_positions(strength, each, one) for each in ((meter,) if meter else METRES)]
    return max(tried, key=lambda pair: pair[0])[1]


def _positions(strength: Floats, meter: int, one: int | None) -> tuple[float, Ints]:
    n = len(strength)
    gain = np.full(meter, -1 / max(1, meter - 1))
    gain[0] = 1
    if meter == 4:
        gain[:] = (1, -0.6, 0.1, -0.5)
    total = np.zeros((n, meter))
    came = np.zeros((n, meter), dtype=np.intp)
    for beat in range(n):
        earned = gain * strength[beat]
        if one == beat:
            earned = np.where(np.arange(meter) == 0, earned, -1e9)
        if beat == 0:
            total[0] = earned
            continue
        steady = np.roll(total[beat - 1], 1)
        best = int(total[beat - 1].argmax())
        slipped = total[beat - 1, best] - _SLIP
        came[beat] = np.where(steady >= slipped, (np.arange(meter) - 1) % meter, best)
        total[beat] = np.maximum(steady, slipped) + earned
    positions = np.zeros(n, dtype=np.int64)
    if n:
        at = int(total[-1].argmax())
        for beat in range(n - 1, -1, -1):
            positions[beat] = at + 1
            at = int(came[beat, at])
    norm = np.sqrt((gain**2).mean() * max(n, 1)) or 1.0
    return float(total[-1].max() / norm) if n else 0.0, positions
