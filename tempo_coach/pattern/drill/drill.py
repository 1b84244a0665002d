"""A way of practising a pattern: how many cycles, which lead-in, which cues."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from enum import StrEnum
from typing import TYPE_CHECKING, Literal, NamedTuple, get_args

from tempo_coach.errors import CoachError
from tempo_coach.pattern.drill.pattern import Pattern  # noqa: TC001  a field's type has to be found at run time

if TYPE_CHECKING:
    from collections.abc import Sequence

Cues = Literal["all", "alternate", "ones", "none", "thinning"]
CUE_WAYS: tuple[str, ...] = get_args(Cues)

#: Counts before the first cycle; the last LEAD_IN_HEARD of them are heard: common practice, "5 6 7 8".
LEAD_IN_COUNTS = 8
LEAD_IN_HEARD = 4
#: Cycles where neither she nor the music says how many.
CYCLES = 8
#: The blocks of a take whose cues thin out, one after the other; the last one, without cues, is what counts.
THINNING: tuple[Cues, ...] = ("all", "alternate", "ones", "none")
#: Least cycles for such blocks: one of each kind with cues, then two without.
LEAST_THINNING = 5
#: Seconds between two cues from which on spread grows and clicks in between help (Repp 2006, rate limits: about 1.8 s
#: for the ability to synchronise at all, from memory), and the least distance of such clicks from any other cue.
LONGEST_WAIT = 1.5
CLOSEST_CLICK = 0.2
#: Smallest allowance, a share of the interval: a smaller displacement of one event in a row cannot be heard
#: (Friberg & Sundberg 1995, abstract).
LEAST_ALLOWANCE = 0.025
#: Beats a minute that a movement can be counted at: slower is no beat any more, faster no count.
TEMPO_RANGE_BPM = (20.0, 400.0)
#: By how much the tempo goes up or down, and after how many steady takes it goes up: common practice.
TEMPO_STEP_BPM = 4.0
STEADY_TAKES = 2


@dataclass(frozen=True)
class Practice:
    """Settings for practising a pattern.

    Parameters
    ----------
    lead_in_counts : int
        Counts before the first cycle.
    cycles : int
        Where the music does not say.
    cues : {"all", "alternate", "ones", "none", "thinning"}
        A cue on every moment, on those of every other cycle, on the first moment of each cycle, on none, or all of
        these one after the other in four blocks.
    tempo_bpm : float
        Default tempo.
    tempi_bpm : (float, float)
        The slowest and the fastest in use.
    """

    lead_in_counts: int = LEAD_IN_COUNTS
    cycles: int = CYCLES
    cues: Cues = "all"
    tempo_bpm: float = 100.0
    tempi_bpm: tuple[float, float] = (60.0, 160.0)

    @property
    def steps(self) -> TempoSteps:
        """The rule for its tempo, between the slowest and the fastest in use."""
        return TempoSteps(*self.tempi_bpm)


def way_of_cycle(way: Cues, cycle: int, cycles: int) -> tuple[Cues, int]:
    """Return how a cycle is cued, and its number within its block.

    Parameters
    ----------
    way : {"all", "alternate", "ones", "none", "thinning"}
    cycle, cycles : int
        Its number in the take, from 0, and how many there are.

    Examples
    --------
    >>> [way_of_cycle("thinning", k, 9)[0] for k in range(9)]
    ['all', 'all', 'alternate', 'alternate', 'ones', 'ones', 'none', 'none', 'none']
    """
    if way != "thinning":
        return way, cycle
    length = max(cycles // len(THINNING), 1)
    block = min(cycle // length, len(THINNING) - 1)
    return THINNING[block], cycle - block * length


class TempoChange(StrEnum):
    """Direction of a change of tempo after a take."""

    UP = "up"
    HIGHEST = "highest"
    STAY = "stay"
    DOWN = "down"
    LOWEST = "lowest"


class TempoStep(NamedTuple):
    """The tempo of the next take, and why.

    Parameters
    ----------
    move : TempoChange
        ``HIGHEST`` and ``LOWEST`` where it would move, and may not.
    tempo_bpm : float
    takes : int
        How many steady takes in a row brought it up, or are missing where it stays.
    """

    move: TempoChange
    tempo_bpm: float
    takes: int = 0


@dataclass(frozen=True)
class TempoSteps:
    """Rule for raising and lowering the tempo, in beats a minute: common practice, and shown to whoever practises.

    Parameters
    ----------
    lowest, highest : float
        It never leaves these.
    step : float
    steady_takes : int
        So many steady takes in a row bring it up; one that was not brings it down.

    Examples
    --------
    >>> TempoSteps(60, 120).after(100, [True, True])
    TempoStep(move=<TempoChange.UP: 'up'>, tempo_bpm=104.0, takes=2)
    """

    lowest: float
    highest: float
    step: float = TEMPO_STEP_BPM
    steady_takes: int = STEADY_TAKES

    def __post_init__(self) -> None:
        if not (0 < self.lowest <= self.highest and self.step > 0 and self.steady_takes >= 1):
            raise ValueError(f"steps of tempo: expected 0 < lowest <= highest and steps above 0, got {self}")

    def after(self, tempo_bpm: float, results: Sequence[bool]) -> TempoStep:
        """Return the tempo of the next take, and the reason.

        Parameters
        ----------
        tempo_bpm : float
            Of the takes so far.
        results : sequence of bool
            Which takes at this tempo were steady, the newest last.
        """
        if results and not results[-1]:
            lower = max(self.lowest, tempo_bpm - self.step)
            return TempoStep(TempoChange.DOWN if lower < tempo_bpm else TempoChange.LOWEST, float(lower))
        streak = next((k for k, steady in enumerate(reversed(results)) if not steady), len(results))
        if streak >= self.steady_takes:
            higher = min(self.highest, tempo_bpm + self.step)
            return TempoStep(
                TempoChange.UP if higher > tempo_bpm else TempoChange.HIGHEST, float(higher), self.steady_takes
            )
        return TempoStep(TempoChange.STAY, float(tempo_bpm), self.steady_takes - streak)


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
    worn_at : tuple of str or None
        Where a phone that is worn feels each cycle; nowhere in tosses, in rolls and over the head. None: nothing is
        said of it.
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
    worn_at: tuple[str, ...] | None = None

    def with_one_hand(self, hand: str) -> Drill:
        """Return the drill for one of its hands alone; a hand that lags is practised as a part of its own.

        Raises
        ------
        CoachError
            If the drill has no such hand.
        """
        hands = tuple(each for each in self.pattern.hands if each.name == hand)
        if not hands:
            known = ", ".join(self.pattern.hand_names)
            raise CoachError("drill.other_hand", where=self.name, hands=known, hand=hand)
        return replace(self, pattern=replace(self.pattern, hands=hands))

    def to_dict(self) -> dict[str, object]:
        """Return the drill as plain values, positions in counts."""
        pattern = self.pattern
        carried = pattern.carried
        return {
            "name": self.name,
            "title": self.title,
            "apparatus": self.apparatus,
            "cycle_counts": pattern.cycle_counts,
            "phases": [{"name": each.name, "start": each.start, "end": each.end} for each in pattern.phases],
            "hands": [
                {
                    "name": hand.name,
                    "plane": hand.plane,
                    "direction": hand.direction,
                    "moments": [{"at": m.at, "label": m.label, "kind": m.kind} for m in hand.moments],
                }
                for hand in pattern.hands
            ],
            "carried": carried
            and {
                "circles_in_room": carried.in_frame("room"),
                "circles_on_arm": carried.in_frame("arm"),
                "sense": carried.sense,
            },
            "tempo_bpm": self.practice.tempo_bpm,
            "trains": self.trains,
            "caution": self.caution,
            "worn_at": self.worn_at,
            "source": self.source,
        }
