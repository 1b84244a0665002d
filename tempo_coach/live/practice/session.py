"""A practice at one instant, as plain values; :mod:`tempo_coach.live.practice.course` goes on from it.

A **stamp** is a reading of ``time.perf_counter`` in seconds; a **time** is seconds on the take clock.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from enum import StrEnum
from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    from tempo_coach.live.notices import Notice
    from tempo_coach.pattern.drill.drill import TempoStep, TempoSteps
    from tempo_coach.pattern.plan.plan import Plan


class Stage(StrEnum):
    """States of a practice."""

    ASKING = "asking"
    WAITING = "waiting"
    WALKING = "walking in"
    OPENING = "opening"
    PLAYING = "playing"
    PAUSED = "paused"
    JUDGING = "judging"
    RESTING = "resting"
    AFTER = "after the take"
    LEFT = "left"


@dataclass(frozen=True)
class Way:
    """The settings of a practice from take to take.

    Parameters
    ----------
    ready : float
        Seconds to walk in before each take's lead-in.
    takes : int
        How many takes follow each other by themselves.
    rest : float
        Seconds between them.
    steps : TempoSteps or None
        How the tempo goes up and down.
    """

    ready: float = 0.0
    takes: int = 1
    rest: float = 20.0
    steps: TempoSteps | None = None


class Onset(NamedTuple):
    """A press of a hand's key: its stamp, and its take time as far as that is known."""

    hand: str
    stamp: float
    time: float


@dataclass(frozen=True, eq=False)
class PracticeState:
    """The state of a practice.

    Parameters
    ----------
    plan : Plan
        Of the take that runs or comes next.
    way : Way
    hands : tuple of str
        Those that have a key; none where somebody or something else observes.
    keys : tuple of (hand, key)
        As far as they are known.
    stage : Stage
    since : float
        Stamp at which the stage began.
    now : float
        The newest stamp.
    position : float
        The newest time; NaN while nothing plays.
    prepared : bool
        Whether the samples of the next take are there.
    started : bool
        Whether they were handed to the player.
    onsets : tuple of Onset
        Of this take, in the order in which they came.
    notice : Notice or None
        What she has to know now; None while all is well.
    can_resume : bool
        Whether a paused take can go on.
    how_ended : str
        ``"passage"`` or ``"enter"``.
    stopped : float or None
        Time at which Enter ended the take.
    number : int
        Of this take, from 1.
    results : tuple of bool
        Which of the takes so far were steady ones, the newest last.
    tempo_bpm : float
        Of the take that runs or comes next.
    tempo_step : TempoStep or None
        What the rule for the tempo did after the last take.
    tempo_asked : float or None
        What she chose after the last take; None where she chose nothing.
    """

    plan: Plan
    way: Way = field(default_factory=Way)
    hands: tuple[str, ...] = ()
    keys: tuple[tuple[str, str], ...] = ()
    stage: Stage = Stage.ASKING
    since: float = 0.0
    now: float = 0.0
    position: float = math.nan
    prepared: bool = False
    started: bool = False
    onsets: tuple[Onset, ...] = ()
    notice: Notice | None = None
    can_resume: bool = False
    how_ended: str = ""
    stopped: float | None = None
    number: int = 1
    results: tuple[bool, ...] = ()
    tempo_bpm: float = 0.0
    tempo_step: TempoStep | None = None
    tempo_asked: float | None = None

    @property
    def asked_hand(self) -> str | None:
        """The hand whose key is being asked for."""
        known = {hand for hand, _ in self.keys}
        return next((hand for hand in self.hands if hand not in known), None)

    @property
    def left(self) -> float:
        """Seconds until the walk-in or the rest is over; 0 in other stages."""
        length = {Stage.WALKING: self.way.ready, Stage.RESTING: self.way.rest}.get(self.stage, 0.0)
        return max(0.0, length - (self.now - self.since)) if length else 0.0

    def hand_of(self, key: str) -> str | None:
        """Return the hand that a key belongs to."""
        return next((hand for hand, mine in self.keys if mine == key), None)
