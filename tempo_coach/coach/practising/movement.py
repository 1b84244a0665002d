"""The movement of a plan along its counts, as the screen follows it: phases, moments, moves and the next ones."""

from __future__ import annotations

import math
from bisect import bisect
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from tempo_coach.pattern.drill.count_names import read_count
from tempo_coach.pattern.plan.section_plans import section_plan

if TYPE_CHECKING:
    from collections.abc import Sequence

    from tempo_coach.coach.routine_course import RoutineCourse
    from tempo_coach.pattern.plan.plan import Plan

#: Whatever changes more often than this many seconds apart is shown more rarely: a flash is a pair of opposing changes,
#: and there may be three a second (WCAG 2.3.1), so that no place changes more than twice as often.
SHORTEST_SHOWN = 1 / 3


class PlanStep(NamedTuple):
    """A named stretch of the plan: a phase, or the approach to a moment."""

    name: str
    short: str
    start: float
    circles: tuple[int, ...]


class CycleMoment(NamedTuple):
    """A moment of the cycle: which hand's, counted from 0, where in counts from the cycle's start, and what it is.

    ``later``: it trails past the end of its own cycle, so that it is asked for from the second cycle on.
    """

    hand: int
    at: float
    kind: str = "circle"
    later: bool = False


class CyclePhase(NamedTuple):
    """A phase of the cycle, in counts from its start."""

    name: str
    start: float
    end: float


@dataclass(frozen=True, eq=False)
class Movement:
    """The movement along the counts of a plan, computed once.

    Parameters
    ----------
    plan : Plan
    course : RoutineCourse or None
        Of a run-through: what the routine has, toss and remark as well as drill, which is then what is told as now and
        next.
    """

    plan: Plan
    course: RoutineCourse | None = None

    @cached_property
    def sections(self) -> tuple[Movement, ...]:
        """Movements of the drills of a run-through."""
        plans = [section_plan(self.plan, each) for each in self.plan.sections]
        return tuple(Movement(plan) for plan in plans if plan is not None)

    def section_at(self, count: float) -> int:
        """Return the index of the drill at a position, or the next one; -1 without sections."""
        ends = [float(each.cycle_starts[-1]) + each.plan.cycle_counts for each in self.sections]
        return next((k for k, end in enumerate(ends) if count < end - 1e-6), len(ends) - 1)

    def section(self, number: int) -> Movement:
        """Return the movement of a drill of the run-through; -1 is that of the whole plan."""
        return self.sections[number] if number >= 0 else self

    def asked_near(self, time: float) -> Plan | None:
        """Return the plan that an onset at a take time answers; None where a run-through has nothing near."""
        if not self.sections:
            return self.plan
        number = self.section_at(float(self.plan.counts_at(time)) - 1)
        plan = self.sections[number].plan
        first = float(plan.counts_at(float(plan.moments.time[0])))
        return plan if first - 1 <= float(plan.counts_at(time)) else None

    @cached_property
    def phases(self) -> tuple[CyclePhase, ...]:
        """Phases of the cycle; none where the drill names none."""
        entries = self.plan.pattern.get("phase", ())
        rows = entries if isinstance(entries, (list, tuple)) else ()
        return tuple(CyclePhase(str(row["name"]), read_count(row["start"]), read_count(row["end"])) for row in rows)

    @cached_property
    def cycle_starts(self) -> np.ndarray:
        """Positions in counts at which the cycles begin."""
        starts = self.plan.cycle_starts
        return starts if len(starts) else np.array([self.plan.first_count])

    @cached_property
    def marks(self) -> tuple[CycleMoment, ...]:
        """Moments of one cycle; one that trails past its end is put where the next cycle has it."""
        moments, plan = self.plan.moments, self.plan
        order = {hand: k for k, hand in enumerate(plan.hands)}
        return tuple(
            CycleMoment(
                order[moments.hand[k]],
                float((moments.count[k] - self.cycle_starts[0]) % plan.cycle_counts),
                moments.kind[k],
                later=bool(moments.count[k] - self.cycle_starts[0] >= plan.cycle_counts),
            )
            for k in np.flatnonzero(moments.cycle == 0)
        )

    @cached_property
    def moves(self) -> tuple[PlanStep, ...]:
        """Every move of the plan in order."""
        if self.course is not None:
            return self._moves_of_course(self.course)
        found: list[PlanStep] = []
        short = shorten_names([stretch.name for stretch in self.phases or self._between_moments()])
        for start in self.cycle_starts:
            for stretch in self.phases or self._between_moments():
                at = float(start) + stretch.start
                inside = [mark.hand for mark in self.marks if stretch.start <= mark.at < stretch.end]
                circles = tuple(inside.count(hand) for hand in range(len(self.plan.hands)))
                if not found or self._seconds(found[-1].start, at) >= SHORTEST_SHOWN - 1e-9:
                    found.append(PlanStep(stretch.name, short[stretch.name], at, circles))
        return tuple(found)

    def _moves_of_course(self, course: RoutineCourse) -> tuple[PlanStep, ...]:
        """Return the moves of a routine, one for each change; nameless where nothing is laid."""
        inside = {float(self.plan.first_count)} | {
            place for each in course.stretches for place in (each.start, each.end) if place >= self.plan.first_count
        }
        end = self.plan.eights[-1].start + self.plan.eights[-1].length
        found: list[PlanStep] = []
        for start in sorted(place for place in inside if place < end):
            here = course.at(start)
            if not found or self._seconds(found[-1].start, start) >= SHORTEST_SHOWN - 1e-9:
                found.append(PlanStep(here.now, here.short, start, ()))
        return tuple(found)

    def _between_moments(self) -> tuple[CyclePhase, ...]:
        places = sorted({mark.at for mark in self.marks})
        labels: dict[float, str] = {}
        for k in np.flatnonzero(self.plan.moments.cycle == 0):
            at = float((self.plan.moments.count[k] - self.cycle_starts[0]) % self.plan.cycle_counts)
            labels.setdefault(at, self.plan.moments.label[k])
        ends = [*places[1:], self.plan.cycle_counts]
        return tuple(CyclePhase(labels[a], a, b) for a, b in zip(places, ends, strict=True))

    def _seconds(self, start: float, end: float) -> float:
        times = np.interp([start, end], self.plan.knot_counts, self.plan.knot_times)
        return float(times[1] - times[0])

    def at(self, count: float) -> tuple[PlanStep | None, PlanStep | None]:
        """Return the move at a position in counts and the one after it; None before the first and after the last."""
        index = bisect(self.moves, count + 1e-6, key=lambda move: move.start) - 1
        now = self.moves[index] if index >= 0 else None
        following = next((move for move in self.moves[index + 1 :] if move.name), None)
        return now, following

    def remark_at(self, count: float) -> str:
        """Return the routine's remark on the eight of a position."""
        if self.course is None:
            return ""
        return self.course.remarks.get(self.plan.place(max(count, self.plan.first_count)).eight, "")

    def asks_all(self, count: float) -> bool:
        """Return whether a position is past the first cycle, after which every moment of a cycle is asked for."""
        return count >= float(self.cycle_starts[0]) + self.plan.cycle_counts - 1e-6

    def in_cycle(self, count: float) -> float:
        """Return how far into its cycle a position is, in counts; NaN outside all cycles."""
        index = int(np.searchsorted(self.cycle_starts, count + 1e-6, side="right")) - 1
        if index < 0:
            return math.nan
        into = count - float(self.cycle_starts[index])
        return into if into < self.plan.cycle_counts else math.nan


def shorten_names(names: Sequence[str]) -> dict[str, str]:
    """Return the words that distinguish each name from the others; the whole name where none does.

    Examples
    --------
    >>> shorten_names(["right wrist over", "left wrist over"])
    {'right wrist over': 'right', 'left wrist over': 'left'}
    """
    shared = set.intersection(*(set(name.split()) for name in names)) if names else set()
    return {name: " ".join(word for word in name.split() if word not in shared) or name for name in names}
