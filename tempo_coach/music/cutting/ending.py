"""The last accent of a piece of music, and how long it rings."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from tempo_coach.music.cutting.attacks import find_attack
from tempo_coach.music.cutting.cut_list import CutPiece

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from tempo_coach.music.counts.count_map import CountMap
    from tempo_coach.music.files.sound import Sound

#: Seconds before its last sound in which the last accent of a piece is looked for.
_LOOK = 12.0
#: An accent is, after its attack, this much (dB) below the loudest of the last seconds at most, and below the loudest
#: of the whole piece: music that fades out ends on none.
_BELOW_LAST_DB, _BELOW_ALL_DB = -6.0, -14.0
#: It has rung out where it is this far (dB) below the loudest of the piece; seconds that are left behind that.
_SILENT_DB, _BEHIND = -55.0, 0.05
#: Levels a second.
_LEVELS_HZ = 40


def find_ending(sound: Sound, counts: CountMap) -> CutPiece | None:
    """Return the last accent of a piece and its decay; None where the piece fades out instead.

    Parameters
    ----------
    sound : Sound
    counts : CountMap
        Of the sound.
    """
    levels = _find_levels(sound)
    sounding = np.flatnonzero(levels > _SILENT_DB)
    if not sounding.size:
        return None
    over = (int(sounding[-1]) + 1) / _LEVELS_HZ
    beats = counts.beats.tolist()
    step = beats[-1] - beats[-2]
    # a last chord often falls where a count would be, after the last that was found
    beats += [beats[-1] + step * k for k in range(1, 1 + int(max(0.0, over - beats[-1]) / step))]
    near = [k for k, time in enumerate(beats) if over - _LOOK <= time < over]
    found = [each.time for k in near if (each := find_attack(sound, beats, k)).heard]
    loud = {time: _level_behind(levels, time) for time in found}
    least = max(max(loud.values(), default=0.0) + _BELOW_LAST_DB, _BELOW_ALL_DB)
    accents = [time for time in found if loud[time] >= least]
    if not accents:
        return None
    end = min(sound.duration, over + _BEHIND)
    return CutPiece(accents[-1], end) if end > accents[-1] + _BEHIND else None


def _find_levels(sound: Sound) -> NDArray[np.float64]:
    """Return the level of each 25 ms in dB below the loudest, shape (n,)."""
    number = max(1, len(sound.samples) * _LEVELS_HZ // sound.rate_hz)
    edges = (np.arange(number + 1) * sound.rate_hz // _LEVELS_HZ).tolist()
    power = np.array(
        [float(np.mean(np.square(sound.samples[first:last], dtype=np.float64))) for first, last in pairwise(edges)]
    )
    return np.asarray(10 * np.log10(np.maximum(power / max(power.max(), 1e-20), 1e-12)))


def _level_behind(levels: NDArray[np.float64], time: float) -> float:
    first = int(time * _LEVELS_HZ)
    return float(levels[first : first + _LEVELS_HZ // 5].max(initial=-np.inf))
