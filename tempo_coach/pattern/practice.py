"""A way of practising a pattern: how many cycles, which lead-in, which cues."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal, get_args

from tempo_coach.pattern.pattern import Pattern  # noqa: TC001  a field's type has to be found at run time

Cues = Literal["all", "alternate", "ones", "none"]
CUE_WAYS: tuple[str, ...] = get_args(Cues)

#: Counts before the first cycle, of which the last LEAD_IN_HEARD are heard: common practice, "5 6 7 8".
LEAD_IN_COUNTS = 8
LEAD_IN_HEARD = 4
#: Cycles where neither she nor the music says how many.
CYCLES = 8
#: Smallest allowance, a share of the interval: a smaller displacement of one event in a row cannot be heard
#: (Friberg & Sundberg 1995, abstract).
LEAST_ALLOWANCE = 0.025


@dataclass(frozen=True)
class Practice:
    """How a pattern is to be practised.

    Parameters
    ----------
    lead_in_counts : int
        Counts before the first cycle.
    cycles : int
        Where the music does not say.
    cues : {"all", "alternate", "ones", "none"}
        A cue on every moment, on those of every other cycle, on the first moment of each cycle, or on none.
    tempo_bpm : float
        The usual tempo.
    tempi_bpm : (float, float)
        The slowest and the fastest in use.
    """

    lead_in_counts: int = LEAD_IN_COUNTS
    cycles: int = CYCLES
    cues: Cues = "all"
    tempo_bpm: float = 100.0
    tempi_bpm: tuple[float, float] = (60.0, 160.0)


@dataclass(frozen=True)
class Drill:
    """A pattern with a way of practising it, and what a coach says about it.

    Parameters
    ----------
    name : str
        Name of its file without the ending.
    title, apparatus, trains, caution, source, notes : str
        Sentences for a person.
    pattern : Pattern
    practice : Practice
    allowance : float
        How far a moment or a cycle may be off and still be called in time, a share of the interval.
    faults : tuple of (fault, sentence)
        Common faults, and what a coach says to each.
    """

    name: str
    title: str
    apparatus: str
    pattern: Pattern
    practice: Practice = field(default_factory=Practice)
    trains: str = ""
    caution: str = ""
    source: str = ""
    notes: str = ""
    allowance: float = LEAST_ALLOWANCE
    faults: tuple[tuple[str, str], ...] = ()
