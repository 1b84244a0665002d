"""Hints held against what is heard: whether beats follow one, and whether they are heard where it led."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from tempo_coach.errors import CoachError
from tempo_coach.music.beats.features import FRAME_HZ

if TYPE_CHECKING:
    from tempo_coach.music.beats.decode import Decoded
    from tempo_coach.music.beats.features import Curve
    from tempo_coach.times import Floats, Ints

#: Octaves from a hinted tempo within which an interval bears it out (a hint is right within 6 %), and the part of the
#: intervals that has to: music may go at it for a while alone. The same part of the bars, of a named metre.
_BORNE_OUT, _A_WHILE = 0.12, 0.25


def find_unheard_hints(
    times: Floats, bar: Ints, *, tempo_bpm: float | None, meter: int | None, rather_bpm: float | None = None
) -> list[CoachError]:
    """Return an error for each hint that the result does not follow, or follows against what is heard.

    Parameters
    ----------
    times : (n,) array
        Seconds of the beats found.
    bar : (n,) array
        Their counts in the bar, 1 for the first.
    tempo_bpm, meter : float or None, int or None
        The hints.
    rather_bpm : float or None
        What :func:`find_plainer_tempo` found.
    """
    unheard = []
    bpm = 60 / np.diff(times)
    if tempo_bpm is not None and np.mean(np.abs(np.log2(bpm / tempo_bpm)) <= _BORNE_OUT) < _A_WHILE:
        found_bpm = float(np.median(bpm))
        unheard.append(CoachError("tempo.not_heard", where="--tempo", tempo_bpm=tempo_bpm, found_bpm=found_bpm))
    elif tempo_bpm is not None and rather_bpm is not None:
        unheard.append(CoachError("tempo.hardly_heard", where="--tempo", tempo_bpm=tempo_bpm, rather_bpm=rather_bpm))
    lengths = np.diff(np.flatnonzero(bar == 1))
    if meter is not None and lengths.size and np.mean(lengths == meter) < _A_WHILE:
        found = int(np.bincount(lengths).argmax())
        unheard.append(CoachError("meter.not_heard", where="--meter", meter=meter, found=found))
    return unheard


#: Octaves from a hint within which an interval is of its level, and the share of intervals that have to be: a piece
#: that goes at the hinted level without the hint is left as it is, whatever its tempo does meanwhile.
_SAME_LEVEL, _MOST = 0.5, 0.7
#: The same of a piece whose median is the hint: steps of tempo may be so large, other levels are further away.
_SAME_MEDIAN, _WIDER, _NEARLY_ALL = 0.2, 0.7, 0.9


def goes_at(found: Decoded, tempo_bpm: float) -> bool:
    """Return whether beats lie at the level of a hint without having been given it."""
    steps = np.diff(found.frames)[~found.after_rest[1:]]
    if len(steps) < 3:
        return False
    away = np.log2(60 * FRAME_HZ / steps / tempo_bpm)
    return bool(
        np.mean(np.abs(away) < _SAME_LEVEL) >= _MOST
        or (abs(np.median(away)) < _SAME_MEDIAN and np.mean(np.abs(away) < _WIDER) >= _NEARLY_ALL)
    )


#: Octaves from a level of the beats that are found without a hint within which a hinted tempo is that level, and the
#: share of their strength that beats of any other tempo have to have. Chosen on 16 pieces, one of each kind. Of 16
#: others (``tests/benchmarks/beat_set``, ``hints``) none of 48 right hints is told, and of 27 wrong ones that are
#: followed 24.
_SAME_RATIO, _AS_STRONG = 0.1, 0.9


def find_plainer_tempo(beat: Curve, plain: Decoded, hinted: Decoded, *, other_level: float | None) -> float | None:
    """Return the tempo found without a hint if the hint's is no level of it and less is heard on its beats.

    Parameters
    ----------
    beat : (frames,) array
        Evidence for a beat, 0 to 1.
    plain, hinted : Decoded
        Beats without the hint and with it.
    other_level : float or None
        How many times the tempo of the plain ones fits the music as well.

    Returns
    -------
    float or None
        Beats a minute.
    """
    if len(plain.frames) < 4:
        return None
    plain_bpm, hinted_bpm = (60 * FRAME_HZ / float(np.median(np.diff(each.frames))) for each in (plain, hinted))
    levels = np.log2([1 / 3, 1 / 2, 1, 2, 3, other_level or 1])
    if np.abs(np.log2(hinted_bpm / plain_bpm) - levels).min() <= _SAME_RATIO:
        return None
    strengths = [_strength_on(beat, each) for each in (plain, hinted)]
    return plain_bpm if strengths[1] < _AS_STRONG * strengths[0] else None


def _strength_on(beat: Curve, found: Decoded) -> float:
    """Return the mean of the evidence on beats, the strongest of three frames each."""
    around = np.clip(found.frames[:, None] + np.arange(-1, 2), 0, len(beat) - 1)
    return float(beat[around].max(axis=1).mean())
