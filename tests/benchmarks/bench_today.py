"""Today's practice and the outlook of goals, for simulated gymnasts of six laws of learning and of none.

Each gymnast practises what the planner asks for. Her true unevenness is known, so that what is said of it can be held
against it: whether the weakest drill is in the session, how long a drill rests, and how goals end. What is judged are
gymnasts made of cycles, four of whose laws nothing was tuned on; ``python -m tests.benchmarks.bench_today`` shows the
others, on whom the planner is tuned.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field
from datetime import date, timedelta
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from tempo_coach.history.planner import LONGEST_REST, go_on, plan_today
from tempo_coach.history.season import CUED, Goal, Outlook, Season, judge_goal
from tempo_coach.history.standing import Known
from tests.benchmarks import gymnasts, judging_gymnasts
from tests.benchmarks.table import Row, print_rows

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator, Sequence

    Gymnast = gymnasts.Gymnast | judging_gymnasts.Gymnast

FIRST = date(2031, 1, 6)
#: Days between two practices beyond which the gymnast herself let everything rest.
AWAY = 5
#: SD of the logarithm of one take's unevenness, and the newest takes of a drill from which anybody could tell it.
ONE_TAKE, LOOKED_AT = 0.35, 10
#: Times that something has to be told before its share is judged: of fewer it is shown alone.
LEAST_TOLD = 10
#: Days of a season before goals are asked after.
WATCHED = 14


@dataclass
class Told:
    """What was told over seasons, held against what was so."""

    sessions: int = 0
    clear: int = 0
    found: int = 0
    well: int = 0
    well_found: int = 0
    weakest: int = 0
    longest: float = 0.0
    ends: Counter[tuple[Outlook, bool]] = field(default_factory=Counter)


def run() -> Iterator[Row]:
    """Yield the rows of the table."""
    for law in judging_gymnasts.LAWS:
        yield from rows_of(law, follow(judging_gymnasts.Gymnast, law, judging_gymnasts.SEEDS))


def tune() -> Iterator[Row]:
    """Yield the same rows of the gymnasts on whom the planner is tuned."""
    for law in gymnasts.LAWS:
        yield from rows_of(law, follow(gymnasts.Gymnast, law, gymnasts.SEEDS))


def rows_of(law: str, told: Told) -> Iterator[Row]:
    """Yield the rows of one law."""
    yield Row(f"{law}: weakest by two SE in the session", told.found / max(told.clear, 1), "", 0.95, better="high")
    yield Row(f"{law}: sessions in which one was, of all", told.clear / told.sessions, "")
    share = told.well_found / max(told.well, 1)
    yield Row(f"{law}: weakest by two SE below her middle drill in the session", share, "", 0.95, better="high")
    yield Row(f"{law}: sessions in which one was so, of all", told.well / told.sessions, "")
    yield Row(f"{law}: truly weakest in the session, however close", told.weakest / told.sessions, "", better="high")
    yield Row(f"{law}: longest rest while she practised", told.longest, "days", LONGEST_REST)
    for outlook, floor, better in ((Outlook.ON_THE_WAY, 0.8, "high"), (Outlook.NOT, 0.2, "low")):
        ends = [told.ends[outlook, end] for end in (True, False)]
        share = ends[0] / sum(ends) if sum(ends) else float("nan")
        held = floor if sum(ends) >= LEAST_TOLD else None
        yield Row(f"{law}: goals told '{outlook}', {sum(ends)}: reached", share, "", held, better=better)
    untold = sum(n for (outlook, _), n in told.ends.items() if outlook is Outlook.CANNOT_TELL)
    yield Row(f"{law}: of {told.ends.total()} told 'cannot tell'", untold / told.ends.total(), "", 0.4)


def follow(make: Callable[[str, int], Gymnast], law: str, seeds: Iterable[int]) -> Told:
    """Let gymnasts of one law practise for a season as the planner says, and keep what was told."""
    told = Told()
    for seed in seeds:
        _season(make(law, seed), told, minutes=(10, 20, 40)[seed % 3])
    return told


def _season(her: Gymnast, told: Told, *, minutes: int) -> None:
    crafts: Sequence[gymnasts.Skill | judging_gymnasts.Craft] = her.crafts
    names = tuple(f"drill {k}" for k in range(len(crafts)))
    known = {
        name: Known(name, each.tempo_bpm, each.tempo_bpm - 40, each.tempo_bpm + 36, each.counts, each.cycles)
        for name, each in zip(names, crafts, strict=True)
    }
    goals = [Goal(names[g.drill], FIRST + timedelta(days=g.day), g.tempo_bpm, g.cues) for g in her.goals]
    columns: list[tuple[float, ...]] = []
    said: list[tuple[Goal, Outlook]] = []
    newest: dict[str, int] = {}
    for day in range(her.days):
        today = FIRST + timedelta(days=day)
        season = _columns(names, columns)
        for goal, true in zip(goals, her.goals, strict=True):
            if goal.on == today:
                reached = her.reaches(true, CUED[goal.cues])  # type: ignore[arg-type]  # each has goals of its own
                told.ends.update((outlook, reached) for mine, outlook in said if mine is goal)
            elif day and day % 7 == 0 and day >= WATCHED and (goal.on - today).days >= 7:
                said.append((goal, judge_goal(season, goal, today=today).outlook))
        if day not in her.practises:
            continue
        her.begin()
        items = plan_today(season, known, today=today, minutes=minutes, goals=goals)
        asked = {item.drill for item in items}
        _look_for_weakest(her, season, asked, told, day)
        for name in asked & newest.keys():
            told.longest = max(told.longest, _rest(her, newest[name], day))
        for place in range(len(items)):
            item = items[place]
            drill = names.index(item.drill)
            newest[item.drill] = day
            for _ in range(item.takes):
                cued = CUED[item.cues]
                pct, steady = her.take(drill, day, tempo_bpm=item.tempo_bpm, cued=cued)
                cycles = crafts[drill].cycles
                columns.append((drill, today.toordinal(), item.tempo_bpm, cued, pct, cycles, steady))
            if item.drill in (later.drill for later in items[place + 1 : -1]):
                items = go_on(_columns(names, columns), known, items, place, today=today)
    for then in newest.values():
        told.longest = max(told.longest, _rest(her, then, her.practises[-1]))


def _columns(names: tuple[str, ...], rows: list[tuple[float, ...]]) -> Season:
    drill, day, tempo, cued, pct, cycles, steady = np.array(rows).reshape(-1, 7).T
    return Season(names, drill.astype(np.int64), day, tempo, cued, pct, cycles, steady > 0)


def _look_for_weakest(her: Gymnast, season: Season, asked: set[str], told: Told, day: int) -> None:
    """Whether the truly weakest drill is asked for, where takes can tell that it is: by two standard errors."""
    found = []
    for k, name in enumerate(season.drills):
        mine = season.of(name)
        if mine.any():
            log = np.log(her.uneven(k, day, tempo_bpm=season.tempo_bpm[mine][-1]))
            found.append((log, ONE_TAKE / np.sqrt(min(mine.sum(), LOOKED_AT)), name))
    told.sessions += 1
    told.weakest += bool(found) and max(found)[2] in asked
    if len(found) > 1:
        found.sort()
        surely, well = (_surely_weaker(found[-1], found[place]) for place in (-2, (len(found) - 1) // 2))
        there = found[-1][2] in asked
        told.clear += surely
        told.found += surely and there
        told.well += well
        told.well_found += well and there


def _surely_weaker(a: tuple[float, float, str], b: tuple[float, float, str]) -> bool:
    """Whether a drill is less even than another one by two standard errors."""
    return a[0] - b[0] > 2 * float(np.hypot(a[1], b[1]))


def _rest(her: Gymnast, since: int, until: int) -> float:
    """Days of rest; where she let everything rest for more than ``AWAY`` days, those since she came back."""
    days = [since, *(d for d in her.practises if since < d <= until)]
    back = max((b for a, b in pairwise(days) if b - a > AWAY), default=since)
    return float(until - back)


if __name__ == "__main__":
    print_rows("today, tuning", tune())
