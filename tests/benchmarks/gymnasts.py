"""Simulated gymnasts who learn, forget and have bad days, each by one of four laws of learning or by none.

The true unevenness of a drill, a per cent of its cycle, is a floor and what is still to be learnt, which shrinks

* ``power``: as a power of the takes done (A. Newell & P. S. Rosenbloom 1981, from memory),
* ``exponential``: exponentially with the takes done (A. Heathcote, S. Brown & D. J. K. Mewhort 2000, from memory),
* ``plateaus``: by sudden steps, with nothing in between,
* ``interference``: exponentially, and each take of another drill of the same apparatus takes a little of it away again,
  the more the nearer it follows (after retroactive interference, from memory),
* ``none``: never.

What was learnt fades with days of rest towards a share that is kept, and comes back faster than it was learnt. Faster
tempi and fewer cues make a take more uneven, each drill by its own amount. A take shows all this with its own chance
(lognormal, as few cycles tell an SD, one take in twenty far off), on a bad day more of it, and more in the first one.

What is tuned of the planner and of the outlook of goals is tuned on these; they are judged on others, made of cycles
(:mod:`tests.benchmarks.judging_gymnasts`).
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import NamedTuple

import numpy as np

LAWS = ("power", "exponential", "plateaus", "interference", "none")
SEEDS = range(100, 116)
CYCLES = 8
#: Per cent of the cycle up to which a take is steady; the program's own limit.
STEADY = 4.5
#: Unevenness per unit of the logarithm of the tempo, without cues, on a bad day, in the first take (logarithms).
TEMPO, NO_CUES, BAD_DAY, FIRST = (0.3, 1.2), (0.0, 0.25), 0.25, 0.1
BAD_DAYS, FAR_OFF = 0.1, 0.05


@dataclass
class Skill:
    """What is true of one drill of one gymnast."""

    floor: float
    start: float
    rate: float
    tempo_bpm: float
    by_tempo: float
    by_cues: float
    apparatus: int
    counts: float = 4.0
    cycles: int = CYCLES
    thresholds: tuple[float, ...] = ()
    practised: float = 0.0
    lost: float = 0.0
    rested_since: int = 0


class Goal(NamedTuple):
    """A drill that is to be even at a tempo, with some share of its cues, on a day."""

    drill: int
    tempo_bpm: float
    cues: str
    day: int


@dataclass
class Gymnast:
    """One gymnast: her drills, the days on which she practises, her goals.

    Parameters
    ----------
    law : str
    seed : int
    days : int
        Length of the season.
    """

    law: str
    seed: int
    days: int = 84
    crafts: list[Skill] = field(default_factory=list)

    def __post_init__(self) -> None:
        draw = self._draw = np.random.default_rng([self.seed, LAWS.index(self.law)])
        for _ in range(int(draw.integers(4, 13))):
            floor = draw.uniform(2.2, 5.0)
            self.crafts.append(
                Skill(
                    floor=floor,
                    start=floor * draw.uniform(1.4, 2.8),
                    rate=draw.uniform(20, 90),
                    tempo_bpm=float(draw.integers(23, 29) * 4),
                    by_tempo=draw.uniform(*TEMPO),
                    by_cues=draw.uniform(*NO_CUES),
                    apparatus=int(draw.integers(0, 3)),
                    thresholds=tuple(np.sort(draw.uniform(5, 160, 3)).tolist()),
                )
            )
        self.forgets = draw.uniform(15, 40)
        weekdays = draw.permutation(7)[: draw.integers(3, 6)]
        ill = draw.integers(0, 8)  # one week in eight is left out
        self.practises = [d for d in range(self.days) if d % 7 in weekdays and (d // 7) % 8 != ill]
        self.goals = [
            Goal(
                int(k),
                round(self.crafts[k].tempo_bpm * draw.uniform(0.95, 1.12)),
                "ones",
                int(draw.integers(42, self.days)),
            )
            for k in draw.permutation(len(self.crafts))[:3]
        ]
        self._bad = False
        self._first = True
        self._newest: int | None = None

    def begin(self) -> None:
        """Begin a day of practice, a good or a bad one."""
        self._bad, self._first, self._newest = bool(self._draw.random() < BAD_DAYS), True, None

    def uneven(self, drill: int, day: int, *, tempo_bpm: float, cued: float = 1.0) -> float:
        """Return the true unevenness of a drill on a day, in per cent, good and bad days left out."""
        skill = self.crafts[drill]
        left = self._left(skill)
        left += (1 - left) * self._lost(skill, day)
        here = skill.floor + (skill.start - skill.floor) * left
        faster = np.log(tempo_bpm / skill.tempo_bpm)
        return float(here * np.exp(skill.by_tempo * faster + skill.by_cues * (1 - cued)))

    def _lost(self, skill: Skill, day: int) -> float:
        """The share of what was learnt that is not there on a day."""
        faded = 0.4 * (1 - np.exp(-max(day - skill.rested_since - 2, 0) / self.forgets))
        return max(skill.lost, float(faded))

    def _left(self, skill: Skill) -> float:
        """The share that is still to be learnt."""
        done = max(skill.practised, 0.0)
        if self.law == "none":
            return 1.0
        if self.law == "power":
            return float((1 + done / 4) ** -0.6)
        if self.law == "plateaus":
            return 1 - sum(done >= each for each in skill.thresholds) / len(skill.thresholds)
        return float(np.exp(-done / skill.rate))

    def reaches(self, goal: Goal, cued: float) -> bool:
        """Whether a goal is reached on an ordinary day, its day."""
        return self.uneven(goal.drill, goal.day, tempo_bpm=goal.tempo_bpm, cued=cued) <= STEADY

    def take(self, drill: int, day: int, *, tempo_bpm: float, cued: float) -> tuple[float, bool]:
        """Do a take, and return how uneven it was, in per cent, and whether it was steady."""
        skill = self.crafts[drill]
        scatter = 1.2 * np.sqrt(1 / (2 * (CYCLES - 1)))
        off = self._draw.normal(0, scatter) + (0.6 if self._draw.random() < FAR_OFF else 0.0)
        shown = self.uneven(drill, day, tempo_bpm=tempo_bpm, cued=cued) * np.exp(
            off + BAD_DAY * self._bad + FIRST * self._first
        )
        skill.practised += 1
        skill.lost = 0.6 * self._lost(skill, day)
        skill.rested_since = day
        if self.law == "interference":
            for k, other in enumerate(self.crafts):
                if k != drill and other.apparatus == skill.apparatus:
                    other.practised = max(0.0, other.practised - (0.35 if k == self._newest else 0.08))
        self._first, self._newest = False, drill
        shown = float(min(shown, 9.0))  # a cycle that is far off counts as one of twice the limit
        return shown, shown <= STEADY
