"""An athlete's standing in each drill, and the tempo and cues that come next for her."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from tempo_coach.history.season import CUED
from tempo_coach.pattern.drill.drill import STEADY_TAKES, TEMPO_STEP_BPM

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from datetime import date

    from tempo_coach.history.drill_course import DrillLevel
    from tempo_coach.history.season import Season


#: The cues from most to fewest.
LADDER = tuple(CUED)


#: Beats a minute from her tempo beyond which a single take of a day does not say what comes next: over one step.
ASIDE_BPM = TEMPO_STEP_BPM + 1


class Known(NamedTuple):
    """What is known of a drill, independent of the athlete."""

    name: str
    tempo_bpm: float
    slowest_bpm: float
    fastest_bpm: float
    counts: float
    cycles: int
    lead_in: int = 8


@dataclass(frozen=True, eq=False)
class Standing:
    """An athlete's standing in one drill.

    Parameters
    ----------
    drill : str
    level : DrillLevel
        At her own tempo, with every cue.
    rested : float
        Days since the last take; infinite without one.
    takes : int
    broke : bool
        Whether the last take was not steady.
    tempo_bpm, cues
        What comes next of these, by her last takes.
    """

    drill: str
    level: DrillLevel
    rested: float
    takes: int
    broke: bool
    tempo_bpm: float
    cues: str


def find_standings(season: Season, known: Mapping[str, Known], *, today: date) -> tuple[Standing, ...]:
    """Return an athlete's standing in each known drill, in the order of the mapping."""
    return tuple(stand_in(season, each, float(today.toordinal())) for each in known.values())


def stand_in(season: Season, drill: Known, today: float) -> Standing:
    """Return an athlete's standing in one drill."""
    mine = np.flatnonzero(season.of(drill.name) & (season.day <= today))
    tempo, cues = what_comes_next(season, drill, today)
    return Standing(
        drill.name,
        season.course(drill.name).at(today, tempo_bpm=tempo),
        today - float(season.day[mine[-1]]) if len(mine) else math.inf,
        len(mine),
        bool(len(mine) and not season.steady[mine[-1]]),
        tempo,
        cues,
    )


def what_comes_next(season: Season, drill: Known, today: float) -> tuple[float, str]:
    """Return the tempo and the cues that come next for an athlete in a drill."""
    mine = np.flatnonzero(season.of(drill.name) & (season.day <= today))
    pace = mine[_set_the_pace(season, mine)]
    if not len(pace):
        return drill.tempo_bpm, LADDER[0]
    newest = pace[-1]
    way = min(CUED, key=lambda name: abs(CUED[name] - season.cued[newest]))
    tempi = (drill.slowest_bpm, drill.fastest_bpm)
    return next_step(round(float(season.tempo_bpm[newest]), 1), way, _alike(season, pace), tempi)


def _set_the_pace(season: Season, mine: np.ndarray) -> np.ndarray:
    """Return which takes of a drill count for what comes next: all but warm-ups and rehearsals of a competition.

    A single take of a day at another tempo by more than a step is one of these, and so is a single one without cues.
    What comes twice in a row on a day is how she practises.
    """
    how = list(zip(*(each[mine].tolist() for each in (season.day, season.tempo_bpm, season.cued)), strict=True))
    sets = np.zeros(len(mine), dtype=np.bool_)
    pace = math.nan
    for k, (_, tempo, cued) in enumerate(how):
        aside = not cued or abs(tempo - pace) > ASIDE_BPM
        sets[k] = not aside or (k > 0 and how[k - 1] == how[k])
        pace = tempo if sets[k] else pace
    return sets if sets.any() else ~sets


def _alike(season: Season, mine: np.ndarray) -> list[bool]:
    """Return which of the last takes at the newest one's tempo and cues were steady."""
    tempo, cued = season.tempo_bpm[mine], season.cued[mine]
    other = np.flatnonzero((np.abs(tempo - tempo[-1]) > 1) | (cued != cued[-1]))
    first = int(other[-1]) + 1 if len(other) else 0
    return [bool(each) for each in season.steady[mine[first:]]]


def next_step(
    tempo_bpm: float, cues: str, results: Sequence[bool], tempi_bpm: tuple[float, float]
) -> tuple[float, str]:
    """Return the tempo and the cues of the next take of a drill.

    Two steady takes make the cues fewer, and at the ones alone the tempo higher; one that was not brings more cues
    back, and with all of them the tempo down.

    Parameters
    ----------
    tempo_bpm, cues
        Of the last takes.
    results : sequence of bool
        Which of them were steady, the newest last.
    tempi_bpm : (float, float)
        The slowest and the fastest in use.

    Examples
    --------
    >>> next_step(100, "all", [True, True], (60, 140))
    (100.0, 'alternate')
    >>> next_step(100, "ones", [True, True], (60, 140))
    (104.0, 'alternate')
    >>> next_step(100, "all", [False], (60, 140))
    (96.0, 'all')
    """
    low, high = tempi_bpm
    place = LADDER.index(cues) if cues in LADDER else 1
    if results and not results[-1]:
        if place:
            return float(tempo_bpm), LADDER[place - 1]
        return float(max(min(low, tempo_bpm), tempo_bpm - TEMPO_STEP_BPM)), LADDER[0]
    if len(results) >= STEADY_TAKES and all(results[-STEADY_TAKES:]):
        if place < LADDER.index("ones"):
            return float(tempo_bpm), LADDER[place + 1]
        faster = min(max(high, tempo_bpm), tempo_bpm + TEMPO_STEP_BPM)
        return float(faster), LADDER[1] if faster > tempo_bpm else LADDER[place]
    return float(tempo_bpm), LADDER[place]
