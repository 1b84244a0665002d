"""Simulated gymnasts on whom the planner and the outlook of goals are judged, made from cycles and not from a formula.

Nothing here has the form that the program believes in. A cycle is timed by a clock, whose scatter is a share of the
cycle and shrinks with practice, and ended by movements, whose scatter is some milliseconds whatever the tempo (A. M.
Wing & A. B. Kristofferson 1973, from memory). Beyond a tempo of her own the clock scatters more, below it not at all;
without cues she wanders from cycle to cycle. Cycles have heavy tails and lapses. Days are good or bad like their
neighbours, a few are bad outright; the first takes of a day are worse, and so are those after half an hour. What was
learnt fades as a power of the days of rest (J. T. Wixted & E. B. Ebbesen 1991, from memory), and half of what faded is
there again after one take. The unevenness of a take, and whether it was steady, are measured by the program's formulas.

What is still to be learnt of the clock's scatter shrinks, by

* ``power``: as a power of the takes done,
* ``exponential``: exponentially with the takes done,
* ``two rates``: in a part that learns at once and loses half until the next day, and one that learns slowly and keeps
  (M. A. Smith, A. Ghazizadeh & R. Shadmehr 2006, from memory),
* ``late``: hardly at first, then fast, then hardly (a logistic curve),
* ``none``: never,
* ``overnight``: from the first takes of a day alone, and most of it is there on the next day only (consolidation, M. P.
  Walker et al. 2002, from memory),
* ``slump``: exponentially, and for some weeks a part of it is lost and comes again, as when a body grows.

``two rates``, ``late``, ``overnight`` and ``slump`` are laws that nothing was ever tuned on. What is tuned is tuned on
:mod:`tests.benchmarks.gymnasts`, whose takes come from a formula, and on gymnasts of this file of the laws ``power``,
``exponential`` and ``none`` with seeds below 600; ``SEEDS`` were not read before the last constant was set. Three times
this file was changed since it was first read, with other seeds each time: takes are no longer than those of the drills
are, a take shows the scatter that steadiness goes by, and the last two laws came.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import NamedTuple

import numpy as np

from tempo_coach.pattern.drill.drill import LEAST_ALLOWANCE
from tempo_coach.score.measures.steadiness import LIMIT, MOST_OFF

LAWS = ("power", "exponential", "two rates", "late", "none", "overnight", "slump")
SEEDS = range(47000, 47030)
#: Takes of a day from which something stays in ``overnight``, and the share of it that is there at once.
STAY, AT_ONCE = 8, 0.25
#: Counts of a cycle and cycles of a take, as the drills have them.
LENGTHS = ((2, 8), (2, 16), (4, 8), (4, 8), (4, 16), (8, 8))
#: Share of cycles with a lapse, by how much of a cycle; degrees of freedom of the others.
LAPSES, LAPSE, TAILS = 0.012, (0.08, 0.2), 6
#: Scatter of days and how like their neighbours they are; share of bad days and by how much these are worse.
DAYS, ALIKE, BAD_DAYS, BAD_DAY = 0.1, 0.5, 0.08, 1.35
#: By how much the first takes of a day are worse; takes after which a session tires, and by how much each.
FIRST, TIRES_AFTER, TIRES = (1.15, 1.06), 24, 0.006
#: Takes that a goal is tried with on its day, to know whether it is reached.
TRIED = 60


class Goal(NamedTuple):
    """A drill that is to be even at a tempo, with some share of its cues, on a day."""

    drill: int
    tempo_bpm: float
    cues: str
    day: int


@dataclass
class Craft:
    """What is true of one drill of one gymnast; scatters are shares of a cycle, ``motor`` is in seconds."""

    counts: float
    cycles: int
    hands: int
    tempo_bpm: float
    start: float
    least: float
    rate: float
    motor: float
    wander: float
    comfortable_bpm: float
    steep: float
    practised: float = 0.0
    quick: float = 0.0
    slow: float = 0.0
    faded: float = 0.0
    last_day: int | None = None
    before_today: float = 0.0
    of_today: int = 0


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
    crafts: list[Craft] = field(default_factory=list)

    def __post_init__(self) -> None:
        draw = self._draw = np.random.default_rng([self.seed, LAWS.index(self.law), 23])
        for _ in range(int(draw.integers(4, 11))):
            least, tempo = draw.uniform(0.018, 0.042), float(draw.integers(22, 31) * 4)
            counts, cycles = LENGTHS[int(draw.integers(len(LENGTHS)))]
            self.crafts.append(
                Craft(
                    counts=counts,
                    cycles=cycles,
                    hands=int(draw.integers(1, 3)),
                    tempo_bpm=tempo,
                    start=least * draw.uniform(1.3, 2.6),
                    least=least,
                    rate=draw.uniform(20, 100),
                    motor=draw.uniform(0.006, 0.02),
                    wander=draw.uniform(0.0, 0.02),
                    comfortable_bpm=tempo * draw.uniform(0.9, 1.15),
                    steep=draw.uniform(0.5, 3.0),
                )
            )
        self.forgets = draw.uniform(0.05, 0.2)
        weekdays = draw.permutation(7)[: draw.integers(3, 6)]
        away = draw.integers(0, self.days // 7)
        self.practises = [d for d in range(self.days) if d % 7 in weekdays and d // 7 != away]
        self.goals = [
            Goal(
                int(k),
                float(round(self.crafts[k].tempo_bpm * draw.uniform(0.95, 1.12))),
                str(draw.choice(["all", "ones", "none"])),
                int(draw.integers(42, self.days)),
            )
            for k in draw.permutation(len(self.crafts))[:3]
        ]
        self.slump = (draw.uniform(14, self.days - 14), draw.uniform(8, 16), draw.uniform(0.2, 0.5))
        self._mood = 0.0
        self._bad = False
        self._done = 0

    def begin(self) -> None:
        """Begin a day of practice."""
        self._mood = ALIKE * self._mood + self._draw.normal(0, DAYS * np.sqrt(1 - ALIKE**2))
        self._bad, self._done = bool(self._draw.random() < BAD_DAYS), 0

    def uneven(self, drill: int, day: int, *, tempo_bpm: float, cued: float = 1.0) -> float:
        """Return the true unevenness of a drill on an ordinary day, in per cent."""
        craft = self.crafts[drill]
        clock, motor, wander = self._scatters(craft, day, tempo_bpm, cued)
        return float(100 * np.sqrt(clock**2 + LAPSES * np.mean(LAPSE) ** 2 + 2 * motor**2 + wander**2))

    def reaches(self, goal: Goal, cued: float) -> bool:
        """Whether most takes of a goal are steady on an ordinary day, its day; nothing is learnt by trying."""
        draw = np.random.default_rng([self.seed, LAWS.index(self.law), goal.drill, goal.day])
        tried = [
            self._show(self.crafts[goal.drill], goal.day, goal.tempo_bpm, cued, 1.0, draw)[1] for _ in range(TRIED)
        ]
        return 2 * sum(tried) > len(tried)

    def take(self, drill: int, day: int, *, tempo_bpm: float, cued: float) -> tuple[float, bool]:
        """Do a take, and return how uneven it was, in per cent, and whether it was steady."""
        craft = self.crafts[drill]
        worse = FIRST[self._done] if self._done < len(FIRST) else 1 + TIRES * max(self._done - TIRES_AFTER, 0)
        worse *= np.exp(self._mood) * (BAD_DAY if self._bad else 1.0)
        shown = self._show(craft, day, tempo_bpm, cued, float(worse), self._draw)
        self._learn(craft, day)
        self._done += 1
        return shown

    def _learn(self, craft: Craft, day: int) -> None:
        craft.faded = 0.5 * self._faded(craft, day)
        if craft.last_day != day:
            craft.quick *= 0.5
            craft.before_today, craft.of_today = craft.slow, 0
        craft.practised += 1
        craft.of_today += 1
        craft.quick += 0.15 * (1 - craft.quick)
        if self.law != "overnight":
            craft.slow += (1 - craft.slow) / craft.rate
        elif craft.of_today <= STAY:
            craft.slow += 1.5 * (1 - craft.slow) / craft.rate
        craft.last_day = day

    def _faded(self, craft: Craft, day: int) -> float:
        """The share of what was learnt that is not there on a day."""
        if craft.last_day is None:
            return 0.0
        return float(max(craft.faded, 1 - (1 + max(day - craft.last_day, 0)) ** -self.forgets))

    def _learnt(self, craft: Craft, day: int) -> float:
        """The share of all there is to learn."""
        done = craft.practised
        if self.law == "none":
            return 0.0
        if self.law == "two rates":
            quick = craft.quick if craft.last_day == day else 0.5 * craft.quick
            return 0.35 * quick + 0.65 * craft.slow
        if self.law == "power":
            return float(1 - (1 + done / (craft.rate / 10)) ** -0.5)
        if self.law == "late":
            begun = 1 / (1 + np.exp(4.0))
            return float((1 / (1 + np.exp(4.0 - 3 * done / craft.rate)) - begun) / (1 - begun))
        if self.law == "overnight":
            before = craft.before_today if craft.last_day == day else craft.slow
            return before + AT_ONCE * (craft.slow - before)
        if self.law == "slump":
            middle, half, depth = self.slump
            lost = depth * np.cos(np.pi / 2 * np.clip((day - middle) / half, -1, 1)) ** 2
            return float((1 - np.exp(-done / craft.rate)) * (1 - lost))
        return float(1 - np.exp(-done / craft.rate))

    def _scatters(self, craft: Craft, day: int, tempo_bpm: float, cued: float) -> tuple[float, float, float]:
        """The scatters of clock, movements and wandering, shares of a cycle."""
        learnt = self._learnt(craft, day) * (1 - self._faded(craft, day))
        too_fast = max(tempo_bpm / craft.comfortable_bpm - 1, 0.0)
        clock = (craft.start + (craft.least - craft.start) * learnt) * (1 + craft.steep * too_fast)
        return clock, craft.motor / (craft.counts * 60 / tempo_bpm), craft.wander * (1 - cued)

    def _show(
        self, craft: Craft, day: int, tempo_bpm: float, cued: float, worse: float, draw: np.random.Generator
    ) -> tuple[float, bool]:
        """The unevenness of a take in per cent, and whether it is steady, by the program's formulas."""
        clock, motor, wander = self._scatters(craft, day, tempo_bpm, cued)
        n = craft.cycles - 1
        each = worse * clock * draw.standard_t(TAILS, n) / np.sqrt(TAILS / (TAILS - 2))
        each += np.where(draw.random(n) < LAPSES, draw.choice([-1, 1], n) * draw.uniform(*LAPSE, n), 0.0)
        drawn = draw.normal(0, wander * 0.6, n)  # an autoregression of .8
        wandering = np.zeros(n)
        for k in range(n):
            wandering[k] = (0.8 * wandering[k - 1] if k else draw.normal(0, wander)) + drawn[k] * (k > 0)
        ends = draw.normal(0, worse * motor, (craft.hands, n + 1))
        tempo = draw.normal(0, 0.006 + 0.008 * (1 - cued))
        ratios = (1 + tempo + each + wandering + np.diff(ends, axis=1)).ravel()
        off = np.clip(ratios - np.median(ratios), -MOST_OFF * LIMIT, MOST_OFF * LIMIT)
        scatter = np.sqrt((off**2).sum() / (len(off) - 1))
        steady = scatter <= LIMIT and abs(ratios.mean() - 1) <= LEAST_ALLOWANCE
        return 100 * float(scatter), bool(steady)
