"""``Plan``: the expected moments and the cues of one take, on the take clock.

The take clock is 0 at the first sample that is played, lead-in included. A plan is a value: it is laid out once
(:mod:`tempo_coach.pattern.plan.layout`), kept in every take, and read back from its file
(:mod:`tempo_coach.pattern.plan.plan_file`).
"""

from __future__ import annotations

from bisect import bisect
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from tempo_coach.music.counts.count_map import Position
from tempo_coach.times import Floats, Ints, ascending, column, whole

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    from tempo_coach.pattern.drill.drill import Cues


class Music(NamedTuple):
    """The music of a plan: its file, and the hash by which a changed file is noticed."""

    path: str
    content_hash: str


class MusicSegment(NamedTuple):
    """From ``take_start`` on, the music plays from ``music_start`` (negative: silence until 0) at ``speed``."""

    take_start: float
    music_start: float
    speed: float


class Eight(NamedTuple):
    """One eight of the passage: its number as spoken, its first position in counts, and its length."""

    number: int
    start: float
    length: int


@dataclass(frozen=True, eq=False)
class Moments:
    """The expected moments of a plan, in order of time: columns of equal length n.

    Parameters
    ----------
    time : array_like, shape (n,)
        Seconds on the take clock, ascending.
    cycle : array_like of int, shape (n,)
        Number of the cycle, from 0.
    hand, label, kind : sequence of str, length n
    count : array_like, shape (n,)
        Position in counts; 0 is the first count 1 of the music, or of the first cycle where there is no music.
    asked_lag_deg : array_like, shape (n,)
        By how much the moment should trail its reference, in degrees of the cycle; NaN where nothing is asked.
    cue : array_like of bool, shape (n,)
        Whether a cue sounds on it.
    """

    time: Floats
    cycle: Ints
    hand: tuple[str, ...]
    label: tuple[str, ...]
    count: Floats
    asked_lag_deg: Floats
    cue: NDArray[np.bool_]
    kind: tuple[str, ...]

    def __post_init__(self) -> None:
        put = object.__setattr__
        put(self, "time", ascending(self.time, name="moments"))
        put(self, "cycle", whole(self.cycle, name="cycles"))
        put(self, "count", column(self.count, name="counts"))
        put(self, "asked_lag_deg", column(self.asked_lag_deg, name="asked lags", allow_nan=True))
        cue = np.array(self.cue, dtype=np.bool_)
        cue.flags.writeable = False
        put(self, "cue", cue)
        for name in ("hand", "label", "kind"):
            put(self, name, tuple(getattr(self, name)))
        columns = (self.cycle, self.hand, self.label, self.count, self.asked_lag_deg, self.cue, self.kind)
        if any(len(each) != self.time.size for each in columns):
            raise ValueError(f"moments: expected columns of {self.time.size}, got {[len(c) for c in columns]}")

    def __len__(self) -> int:
        return int(self.time.size)

    def of_hand(self, hand: str) -> NDArray[np.int64]:
        """Return the positions of the moments of one hand."""
        return np.flatnonzero(np.array(self.hand) == hand)


@dataclass(frozen=True, eq=False)
class CueSounds:
    """The sounds that are added to the music: columns of equal length n, in order of time.

    Parameters
    ----------
    time : array_like, shape (n,)
        Seconds on the take clock, ascending.
    sound : sequence of str, length n
        Name of each: a file of the cue sounds, or ``say`` and a number.
    """

    time: Floats
    sound: tuple[str, ...]

    def __post_init__(self) -> None:
        object.__setattr__(self, "time", ascending(self.time, name="cues"))
        object.__setattr__(self, "sound", tuple(self.sound))
        if len(self.sound) != self.time.size:
            raise ValueError(f"cues: expected {self.time.size} sounds, got {len(self.sound)}")


@dataclass(frozen=True, eq=False)
class Section:
    """A section of a run-through: one drill where a routine has it.

    Parameters
    ----------
    drill, title : str
    hands : tuple of str
        Of the drill, in its order.
    first_cycle : int
        Number of its first cycle in the plan; the others follow.
    cycle_counts, allowance : float
        Of the drill.
    cycle_starts : tuple of float
        Positions in counts at which its cycles begin.
    pattern : dict
        As the drill's file gave it.
    """

    drill: str
    title: str
    hands: tuple[str, ...]
    first_cycle: int
    cycle_counts: float
    allowance: float
    cycle_starts: tuple[float, ...]
    pattern: dict[str, object] = field(default_factory=dict)

    @property
    def start(self) -> float:
        """Position at which its first cycle begins."""
        return self.cycle_starts[0]

    @property
    def end(self) -> float:
        """Position at which its last cycle ends."""
        return self.cycle_starts[-1] + self.cycle_counts


@dataclass(frozen=True, eq=False)
class Plan:
    """The plan of one take.

    Parameters
    ----------
    drill, title, apparatus : str
    hands : tuple of str
        The first one is the reference of all lags.
    cycle_counts : float
    tempo_bpm : float or None
        The tempo that was asked for; None with music.
    music : Music or None
    speed : float
        Of the music; 1 is as recorded.
    lead_in_counts : int
    cue_way : {"all", "alternate", "ones", "none", "thinning"}
    allowance : float
        How far off is still in time, a share of the interval.
    eights : tuple of Eight
        The eights of the passage, in order.
    pieces : tuple of MusicSegment
        The map between take clock and music.
    knot_times, knot_counts : array_like, shape (k,)
        The map between take clock and counts: both never fall, and the count stands still in a pause.
    duration : float
        Seconds from the first sample to the end of the passage.
    moments : Moments
    cues : CueSounds
    pattern : dict
        The pattern as the drill's file gave it, so that a drill changed later does not change an old take.
    cycle_starts : array_like, shape (cycles,)
        Positions in counts at which the cycles begin; by default the first one with the passage, and all of one shape.
    sections : tuple of Section
        Of a run-through: its drills, in order of place. None where the plan is that of one drill.
    """

    drill: str
    title: str
    apparatus: str
    hands: tuple[str, ...]
    cycle_counts: float
    tempo_bpm: float | None
    music: Music | None
    speed: float
    lead_in_counts: int
    cue_way: Cues
    allowance: float
    eights: tuple[Eight, ...]
    pieces: tuple[MusicSegment, ...]
    knot_times: Floats
    knot_counts: Floats
    duration: float
    moments: Moments
    cues: CueSounds
    pattern: dict[str, object] = field(default_factory=dict)
    cycle_starts: Floats = field(default_factory=lambda: np.zeros(0))
    sections: tuple[Section, ...] = ()

    def __post_init__(self) -> None:
        put = object.__setattr__
        starts = self.cycle_starts if len(self.cycle_starts) else self._alike_from(self.first_count)
        put(self, "cycle_starts", ascending(starts, name="starts of the cycles"))
        put(self, "knot_times", ascending(self.knot_times, name="times of the counts"))
        put(self, "knot_counts", ascending(self.knot_counts, name="counts"))
        if self.knot_times.size != self.knot_counts.size or self.knot_times.size < 2:
            raise ValueError("plan: expected two or more counts with a time each")
        if not (self.eights and self.pieces and self.hands):
            raise ValueError("plan: expected at least one eight, one piece and one hand")
        if len(self.cycle_starts) < self.cycles and len(self.moments):
            raise ValueError(f"plan: expected where {self.cycles} cycles begin, got {len(self.cycle_starts)}")
        unknown = set(self.moments.hand) - set(self.hands)
        if unknown:
            raise ValueError(f"plan: moments of unknown hands {sorted(unknown)}")

    @property
    def first_count(self) -> float:
        """Position of the first count of the passage, at the end of the lead-in."""
        return self.eights[0].start

    @property
    def start(self) -> float:
        """Seconds on the take clock at which the lead-in is over."""
        behind = int(np.searchsorted(self.knot_counts, self.first_count, side="right"))
        return float(self.knot_times[behind - 1])

    @property
    def cycles(self) -> int:
        """Number of cycles."""
        return int(self.moments.cycle.max(initial=-1)) + 1

    def _alike_from(self, first: float) -> Floats:
        """Return the starts of the cycles if all have the shape of the first one, which begins with the passage."""
        cycles, which = np.unique(self.moments.cycle, return_inverse=True)
        firsts = np.full(cycles.size, np.inf)
        np.minimum.at(firsts, which, self.moments.count)
        return np.asarray(firsts - firsts[:1] + first)

    def counts_at(self, times: ArrayLike) -> Floats:
        """Return the position in counts at each time of the take clock."""
        return np.interp(np.asarray(times, dtype=np.float64), self.knot_times, self.knot_counts)

    def place(self, count: float) -> Position:
        """Return eight and count of a position as a coach says them; the lead-in counts towards its first eight."""
        index = bisect(self.eights, count + 1e-9, key=lambda eight: eight.start) - 1
        if index < 0:
            first = self.eights[0]
            return Position(first.number - 1, count - first.start + self.lead_in_counts + 1)
        eight = self.eights[index]
        # a hand that trails may have its last moment after the passage: that is in the eight that would follow
        more = int((count - eight.start + 1e-9) // eight.length)
        return Position(eight.number + more, float(count - eight.start - more * eight.length + 1))
