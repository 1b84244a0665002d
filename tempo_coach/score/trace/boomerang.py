"""The ribbon's boomerang: the pull has to come while the stick lies on the floor.

The pull is asked for on a count, but what makes it right is the stick: pulled before the stick is down it comes back in
the air; pulled long after, it has stopped and lies there. So a pull that is wrong by the count and one that is wrong by
the stick are told apart.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Literal, NamedTuple

if TYPE_CHECKING:
    from tempo_coach.pattern.plan.plan import Plan
    from tempo_coach.times import Floats

Pull = Literal["in time", "too early", "too late", "too long on the floor", "not seen"]

LONGEST_LIE = 1.0
"""Counts for which a stick may lie before it is pulled; common practice."""

LATEST_PULL = 0.5
"""Counts behind its moment at which a pull is late, though the stick did not lie long; common practice."""

_PAIR = ("contact", "pull")


class Boomerang(NamedTuple):
    """One boomerang.

    Parameters
    ----------
    cycle : int
    pull : str
        ``in time``, ``too early`` (before the stick is down), ``too late`` (by the count), ``too long on the floor``
        or ``not seen``.
    lie : float
        Counts from the floor to the pull; negative where the pull came first; NaN where one was not seen.
    off : float
        Counts from the pull's moment to the pull; NaN where it was not seen.
    """

    cycle: int
    pull: Pull
    lie: float
    off: float


def has_boomerangs(plan: Plan) -> bool:
    """Return whether every cycle of a plan has a floor and a pull."""
    moments = plan.moments
    cycles = [{int(moments.cycle[k]) for k, each in enumerate(moments.kind) if each == kind} for kind in _PAIR]
    return bool(cycles[0]) and cycles[0] == cycles[1]


def judge_boomerangs(
    plan: Plan, asynchrony: Floats, *, longest_lie: float = LONGEST_LIE, latest_pull: float = LATEST_PULL
) -> tuple[Boomerang, ...]:
    """Return each boomerang of a take.

    Parameters
    ----------
    plan : Plan
        Of a drill with one moment of the kind ``contact`` and one of the kind ``pull`` in each cycle.
    asynchrony : array, shape (n,)
        Observed minus asked for each moment of the plan, s; NaN where missed. The scorecard has it.
    longest_lie, latest_pull : float
        In counts.

    Raises
    ------
    ValueError
        If the plan has no such moments.
    """
    moments = plan.moments
    if len(asynchrony) != len(moments):
        raise ValueError(f"expected {len(moments)} asynchronies, got {len(asynchrony)}")
    found: dict[int, dict[str, tuple[float, float]]] = {}
    for k, kind in enumerate(moments.kind):
        if kind in _PAIR:
            off = float(asynchrony[k])
            seen = math.nan if math.isnan(off) else float(plan.counts_at(float(moments.time[k]) + off))
            found.setdefault(int(moments.cycle[k]), {})[kind] = (seen, seen - float(moments.count[k]))
    if not found or any(len(kinds) < 2 for kinds in found.values()):
        raise ValueError("a boomerang needs a contact and a pull in every cycle")
    judged = []
    for cycle, kinds in sorted(found.items()):
        (floor, _), (pull, off) = kinds["contact"], kinds["pull"]
        lie = pull - floor
        judged.append(Boomerang(cycle, _tell(lie, off, longest_lie, latest_pull), lie, off))
    return tuple(judged)


def _tell(lie: float, off: float, longest_lie: float, latest_pull: float) -> Pull:
    if math.isnan(lie):
        return "not seen"
    if lie <= 0:
        return "too early"
    if lie > longest_lie:
        return "too long on the floor"
    return "too late" if off > latest_pull else "in time"
