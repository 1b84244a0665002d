"""The metrical level of found beats: what speaks for counting twice, or half, as fast as they go."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from tempo_coach.music.beats.features import FINE_HZ, FRAME_HZ
from tempo_coach.music.beats.network import TEMPI

if TYPE_CHECKING:
    from tempo_coach.music.beats.features import Curve
    from tempo_coach.music.beats.network import Activations
    from tempo_coach.times import Floats, Ints

#: Beats a minute below which counts are often twice as fast. On 216 developing pieces 17 of the 32 that were found
#: below were, and none above.
_SLOW_BPM = 73.0
#: Least chance of a downbeat on the weaker of two alternating beats that makes bars of two, and its least part of that
#: on the stronger one. On the developing pieces slow music in four reached .64 and .85, never both.
_IN_TWO, _ALIKE = 0.65, 0.83
#: Beats in which the stronger of the alternating ones is settled anew: four bars of four.
_SETTLED_OVER = 16
#: How much is to begin half-way between beats, beside what begins on them, and beside what does at their thirds: bars
#: of two times three (6/8) are never counted in four.
_HALF_WAY, _BESIDE_THIRDS = 0.3, 0.85
#: Seconds on either side in which what begins is looked for.
_NEAR = 0.02
#: Tempo from which counts may be half as fast, the probability of that from which it fits as well, the octaves about
#: it, and the part of the stronger of every two beats up to which they alone may be counted at any tempo.
_QUICK_BPM, _HALF_FITS, _AROUND, _WEAKER = 120.0, 0.3, 0.1, 0.42


def is_half_of_what_is_counted(times: Floats, heard: Activations, fine: Curve) -> bool:
    """Return whether beats are slow, in bars of two that are bars of four at twice the tempo.

    Parameters
    ----------
    times : array, shape (n,)
        Beats in seconds.
    heard : Activations
        What the network hears, by frame.
    fine : array, shape (m,), float32
        Onset strength at ``FINE_HZ``.

    Notes
    -----
    A bar has four counts more often than two (common practice), and what is counted in eights goes at some 80 to 160
    a minute; so of the two readings of the same bar lines the quicker one is taken.
    """
    if len(times) < _SETTLED_OVER or 60 / np.median(np.diff(times)) >= _SLOW_BPM:
        return False
    weaker, stronger = _alternate(_one_chance(times, heard))
    if weaker < _IN_TWO or weaker < _ALIKE * stronger:
        return False
    on, half, third = (_begun(times, fine, parts) for parts in ((0.0,), (0.5,), (1 / 3, 2 / 3)))
    return half >= max(_HALF_WAY * on, _BESIDE_THIRDS * third)


def find_other_level(frames: Ints, heard: Activations) -> float | None:
    """Return 2 or 0.5, where twice or half the tempo may be what is counted, else None.

    On 216 developing pieces this holds for 9 of the 11 that are at a wrong level, and for one in eight of the others.

    Parameters
    ----------
    frames : array of int, shape (n,)
        Beats.
    heard : Activations
        What the network hears, by frame.
    """
    if len(frames) < 3:
        return None
    bpm = 60 * FRAME_HZ / float(np.median(np.diff(frames)))
    if bpm < _SLOW_BPM:
        return 2.0
    likely = float(heard.tempo[:, np.abs(np.log2(TEMPI / bpm * 2)) < _AROUND].sum(axis=1).mean())
    near = np.pad(heard.beat, 3)[frames[:, None] + np.arange(7)].max(axis=1)
    weaker, stronger = sorted((np.median(near[::2]), np.median(near[1::2])))
    return 0.5 if (bpm >= _QUICK_BPM and likely >= _HALF_FITS) or weaker <= _WEAKER * stronger else None


def _one_chance(times: Floats, heard: Activations) -> Floats:
    """Return how likely a bar begins on each beat, given that it is one."""
    around = np.round(times * FRAME_HZ).astype(np.intp)[:, None] + np.arange(-2, 3)
    around = np.clip(around, 0, len(heard.beat) - 1)
    beat, one = (curve[around].max(axis=1).astype(np.float64) for curve in (heard.beat, heard.downbeat))
    chance: Floats = np.minimum(one / np.maximum(beat, 1e-3), 1.0)
    return chance


def _alternate(ones: Floats) -> tuple[float, float]:
    """Return the chance of a downbeat two beats after the likeliest of every four, and on that one."""
    weaker, stronger = [], []
    for start in range(0, len(ones) - _SETTLED_OVER + 1, _SETTLED_OVER):
        mean = ones[start : start + _SETTLED_OVER].reshape(-1, 4).mean(axis=0)
        best = int(mean.argmax())
        stronger.append(mean[best])
        weaker.append(mean[(best + 2) % 4])
    return float(np.mean(weaker)), float(np.mean(stronger))


def _begun(times: Floats, fine: Curve, parts: tuple[float, ...]) -> float:
    """Return how much begins at parts of the beats, on average."""
    reach = int(_NEAR * FINE_HZ) + 1
    steps = np.diff(times)
    moments = np.concatenate([times[:-1] + part * steps for part in parts])
    centre = np.round(moments * FINE_HZ).astype(np.intp)
    around = np.clip(centre[:, None] + np.arange(-reach, reach + 1), 0, len(fine) - 1)
    return float(fine[around].max(axis=1).mean())
