"""Today's practice for one athlete: which drills, at which tempo, with which cues, in which order.

Warm-up; blocks on what broke last, what has rested long and what a goal asks for, in mixed order and spaced; a last
one as in competition. Practice that is varied and spaced looks worse while it is done and keeps better (R. A. Schmidt &
R. A. Bjork, *Psychological Science* 3 (1992) 207-217; J. B. Shea & R. L. Morgan, *J. Exp. Psychol. Hum. Learn. Mem.* 5
(1979) 179-187; N. J. Cepeda et al., *Psychological Bulletin* 132 (2006) 354-380; all from memory). The limits of that
evidence: mostly laboratory tasks and adults; with beginners and hard movements mixing helps little or hurts (F. Brady,
*Quest* 50 (1998) 266-296, from memory). So a drill that is not yet steady at all is done twice in a row before
another one comes, and nothing is mixed within a take. Cues that stay keep from learning to do without (the guidance
hypothesis: A. W. Salmoni, R. A. Schmidt & C. B. Walter, *Psychological Bulletin* 95 (1984) 355-386, from memory), so
they thin out as takes get steady. Rests and the slow beginning are common practice.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import TYPE_CHECKING

import numpy as np

from tempo_coach.history.season import CUED, EVEN_PCT, UNTOLD
from tempo_coach.history.standing import Known, Standing, find_standings, what_comes_next

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from datetime import date

    from tempo_coach.history.season import Goal, Season

#: Minutes that a session may have.
LENGTHS = (10, 20, 40)
#: Blocks of each length, and takes that a drill gets in each of them.
BLOCKS = {10: 2, 20: 3, 40: 3}
#: Drills that are practised at a time, at most.
MOST_DRILLS = {10: 4, 20: 5, 40: 8}
#: Longest rest of a drill, and the time without a take after which it is dropped from the list, in days.
LONGEST_REST, DROPPED = 10, 60
#: Days without practice beyond which she was away, which says nothing of her next pause.
ABSENCE = 5
#: Seconds between two takes, and from one drill to another.
REST, CHANGE = 15.0, 15.0
#: Share of her tempo at which she warms up, and by how much the tolerance is wider then.
WARM_UP_TEMPO, WARM_UP_TOLERANCE = 0.8, 2.0
#: How many standard errors one drill is weaker than another when it is surely so.
SURELY = 2.0
#: Drills besides the weakest that are in a session because they may be as weak.
MOST_WEAK = 2


class SessionPart(StrEnum):
    """Parts of a session."""

    WARM_UP = "warm-up"
    BLOCK = "block"
    LAST = "last"


class Because(StrEnum):
    """Why a drill is in a session; its arguments are named beside it."""

    STEADY = "steady"  # the steadiest: to warm up with
    WEAKEST = "weakest"  # unevenness in per cent
    WEAK = "weak"  # perhaps as uneven as that; unevenness in per cent
    BROKE = "broke"
    RESTED = "rested"  # days
    GOAL = "goal"  # days left
    NEW = "new"
    NEXT = "next"  # unevenness in per cent
    COMPETITION = "competition"


@dataclass(frozen=True)
class SessionItem:
    """A drill as it is practised at one place of a session.

    Parameters
    ----------
    part : SessionPart
    block : int
        From 1; 0 outside of blocks.
    drill : str
    tempo_bpm : float
    cues : str
    takes : int
        In a row.
    because : Because
    number : float
        Its argument; NaN without one.
    tolerance : float
        Factor on the drill's tolerance.
    """

    part: SessionPart
    block: int
    drill: str
    tempo_bpm: float
    cues: str
    takes: int
    because: Because
    number: float = math.nan
    tolerance: float = 1.0

    def is_like(self, other: SessionItem) -> bool:
        """Return whether another item has the same drill in the same way, so that what changes there changes here."""
        mine, others = ((each.part, each.drill, each.tempo_bpm, each.cues) for each in (self, other))
        return mine == others


def plan_today(
    season: Season, known: Mapping[str, Known], *, today: date, minutes: int, goals: Sequence[Goal] = ()
) -> tuple[SessionItem, ...]:
    """Return today's session in the order in which it is done.

    Parameters
    ----------
    season : Season
        Her takes so far.
    known : mapping of str to Known
        The drills that she practises, by their names; at least one.
    today : date
    minutes : {10, 20, 40}
    goals : sequence of Goal
        Those of other drills, and those that are over, are left out.

    Raises
    ------
    ValueError
        If there is no drill, or no session of that length.
    """
    if not known or minutes not in LENGTHS:
        raise ValueError(f"expected a drill and {LENGTHS} minutes, got {len(known)} and {minutes}")
    standings = {each.drill: each for each in find_standings(season, known, today=today)}
    ahead = sorted((goal for goal in goals if goal.on >= today and goal.drill in known), key=lambda goal: goal.on)
    left = 60.0 * minutes

    steadiest = min(standings.values(), key=lambda each: (each.level.log, each.drill))
    warm_up = _warm_up(steadiest, known[steadiest.drill])
    last = _last(season, standings, ahead, today)
    left -= seconds_of(warm_up, known) + seconds_of(last, known)

    blocks = BLOCKS[minutes]
    one = max(seconds_of(_single(each), known) for each in standings.values())
    room = max(int(left / one) - blocks, 1)  # what the weakest one leaves
    due = _due([*standings.values()], room=room, pauses=_recent_pauses(season, today))
    ranked = _rank([*standings.values()], ahead, due=due, today=today)
    items = [replace(_single(standings[drill]), because=because, number=number) for drill, because, number in ranked]
    costs = [seconds_of(item, known) for item in items]
    visits = _share_out(items, costs, blocks=blocks, most=MOST_DRILLS[minutes], left=left)
    left -= sum(number * cost for number, cost in zip(visits, costs, strict=True))
    every: list[SessionItem] = []
    once: list[SessionItem] = []
    for item, number, cost in zip(items, visits, costs, strict=True):
        if not number:
            continue
        # what is not steady yet is done twice in a row while there is time: mixing is for what can be done
        twice = replace(item, takes=2)
        extra = number * (seconds_of(twice, known) - cost)
        in_time = extra <= left
        left -= extra if in_time else 0.0
        (every if number == blocks else once).append(twice if in_time else item)
    return (warm_up, *_mix(every, once, blocks), last)


def _single(standing: Standing) -> SessionItem:
    """Return a drill done once, at what comes next for her."""
    return SessionItem(SessionPart.BLOCK, 0, standing.drill, standing.tempo_bpm, standing.cues, 1, Because.NEXT)


def go_on(
    season: Season, known: Mapping[str, Known], items: Sequence[SessionItem], place: int, *, today: date
) -> tuple[SessionItem, ...]:
    """Return a session whose later items follow from the takes just done.

    Parameters
    ----------
    season : Season
        Her takes, those of this session too.
    known : mapping of str to Known
    items : sequence of SessionItem
    place : int
        Of the item that is done. Later ones of its drill that were alike follow; what was changed by hand stays, and
        so do a warm-up and the last one.
    today : date
    """
    done = items[place]
    if done.part is not SessionPart.BLOCK:
        return tuple(items)
    tempo, cues = what_comes_next(season, known[done.drill], float(today.toordinal()))
    return tuple(
        replace(each, tempo_bpm=tempo, cues=cues) if k > place and each.is_like(done) else each
        for k, each in enumerate(items)
    )


def _share_out(
    items: Sequence[SessionItem], costs: Sequence[float], *, blocks: int, most: int, left: float
) -> list[int]:
    """Return the number of blocks of each drill.

    The first one in all of them; what would rest too long, and what may be as weak, in one at least; then, in their
    order, in all while there is time.
    """
    visits = [blocks, *([0] * (len(items) - 1))]
    left -= blocks * costs[0]
    for k, item in enumerate(items):
        if item.because in (Because.RESTED, Because.WEAK) and not visits[k] and costs[k] <= left:
            visits[k] = 1
            left -= costs[k]
    for k in range(1, len(items)):
        cost = (blocks - visits[k]) * costs[k]
        if cost > left or visits.count(blocks) == most:
            break
        visits[k] = blocks
        left -= cost
    return visits


def seconds_of(item: SessionItem, known: Mapping[str, Known]) -> float:
    """Return the duration of an item, lead-ins and rests included."""
    drill = known[item.drill]
    one = (drill.lead_in + drill.counts * drill.cycles) * 60 / item.tempo_bpm
    return item.takes * (one + REST) + CHANGE


def _recent_pauses(season: Season, today: date) -> tuple[float, float]:
    """Return the longest and the mean number of days between her recent sessions, absences left out."""
    pauses = np.diff(np.unique(season.day[season.day > today.toordinal() - DROPPED]))
    pauses = pauses[pauses <= ABSENCE]
    return (float(pauses.max()), float(pauses.mean())) if len(pauses) > 1 else (ABSENCE - 1.0, ABSENCE / 2)


def _due(standings: Sequence[Standing], *, room: int, pauses: tuple[float, float]) -> list[Standing]:
    """Return the fewest drills that have to come today so that none rests too long, the longest rested first.

    Of the others ``room`` come in each session from the next one on, in their order.
    """
    waiting = sorted((each for each in standings if each.takes), key=lambda each: -each.rested)
    surely, usually = pauses
    for now in range(len(waiting)):
        rests = (each.rested + surely + (k // room) * usually for k, each in enumerate(waiting[now:]))
        if max(rests) < LONGEST_REST - 1:
            return waiting[:now]
    return waiting


def _rank(
    standings: Sequence[Standing], goals: Sequence[Goal], *, due: Sequence[Standing], today: date
) -> list[tuple[str, Because, float]]:
    """Return the drills in order of need of practice now, each with the reason.

    First the weakest; then what would rest too long by the next session, the longest first; then what may be as weak;
    then goals, what broke last, what is new, and the rest by unevenness and rest.
    """
    tried = [each for each in standings if each.takes]
    found: dict[str, tuple[Because, float]] = {}
    by_level = sorted(tried, key=lambda each: -each.level.log)
    if by_level:
        found[by_level[0].drill] = Because.WEAKEST, by_level[0].level.pct
    for each in due:
        found.setdefault(each.drill, (Because.RESTED, each.rested))
    for each in by_level[1 : 1 + MOST_WEAK]:
        if by_level[0].level.log - each.level.log < SURELY * math.hypot(by_level[0].level.se, each.level.se):
            found.setdefault(each.drill, (Because.WEAK, each.level.pct))
    for goal in goals:
        found.setdefault(goal.drill, (Because.GOAL, float((goal.on - today).days)))

    def need(each: Standing) -> float:
        return each.level.log - math.log(EVEN_PCT) + 0.1 * min(each.rested, LONGEST_REST) + 0.3 * each.broke

    for each in standings:
        if not each.takes:
            found.setdefault(each.drill, (Because.NEW, math.nan))
            break  # one new drill at a time
    for each in sorted(tried, key=need, reverse=True):
        why = (Because.BROKE, math.nan) if each.broke else (Because.NEXT, each.level.pct)
        found.setdefault(each.drill, why)
    for each in standings:
        found.setdefault(each.drill, (Because.NEW, math.nan))
    return [(drill, *why) for drill, why in found.items()]


def _warm_up(standing: Standing, drill: Known) -> SessionItem:
    tempo = round(max(WARM_UP_TEMPO * standing.tempo_bpm, min(drill.slowest_bpm, standing.tempo_bpm)))
    because = Because.STEADY if standing.takes else Because.NEW
    return SessionItem(
        SessionPart.WARM_UP, 0, standing.drill, float(tempo), "all", 1, because, tolerance=WARM_UP_TOLERANCE
    )


def _last(
    season: Season,
    standings: Mapping[str, Standing],
    goals: Sequence[Goal],
    today: date,
) -> SessionItem:
    """Return the last item, as in competition: the goal rehearsed least recently; without one, her best drill."""
    if goals:
        lately = season.day > today.toordinal() - 14

        def tried(goal: Goal) -> tuple[int, date]:
            as_asked = np.abs(season.tempo_bpm - goal.tempo_bpm) <= 1
            as_asked &= season.cued <= CUED.get(goal.cues, UNTOLD)
            return int((season.of(goal.drill) & lately & as_asked).sum()), goal.on

        goal = min(goals, key=tried)
        return SessionItem(SessionPart.LAST, 0, goal.drill, goal.tempo_bpm, goal.cues, 1, Because.COMPETITION)
    best = min(standings.values(), key=lambda each: (-(each.takes > 0), each.broke, -each.rested, each.drill))
    return SessionItem(SessionPart.LAST, 0, best.drill, best.tempo_bpm, "none", 1, Because.COMPETITION)


def _mix(every: Sequence[SessionItem], once: Sequence[SessionItem], blocks: int) -> list[SessionItem]:
    """Return blocks with every drill of the first set in varying order, and a share of the others.

    None follows itself from block to block.
    """
    mixed: list[SessionItem] = []
    for block in range(blocks):
        order = list(every[block % len(every) :]) + list(every[: block % len(every)])
        if block % 2:
            order.reverse()
        order[1:1] = once[block::blocks]
        if mixed and len(order) > 1 and order[0].drill == mixed[-1].drill:
            order.append(order.pop(0))
        mixed += [replace(item, block=block + 1) for item in order]
    return mixed
