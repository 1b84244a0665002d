"""Goals of one person: set, taken away, and judged with the weeks that lead to each."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, NamedTuple

from tempo_coach.errors import CoachError
from tempo_coach.history.season import Goal

if TYPE_CHECKING:
    from datetime import date
    from pathlib import Path

    from tempo_coach.history.roster import Person
    from tempo_coach.history.season import Verdict, Week


__all__ = ["Goal", "JudgedGoal", "drop_goal", "judge_goals", "set_goal"]


class JudgedGoal(NamedTuple):
    """A goal with the title of its drill, its outlook in words, and the weeks that lead there."""

    goal: Goal
    title: str
    verdict: Verdict
    weeks: tuple[Week, ...]


def judge_goals(file: Path, name: str, *, day: date) -> tuple[JudgedGoal, ...]:
    """Return somebody's goals, without those that ended more than a month ago.

    Raises
    ------
    CoachError
        If something cannot be read.
    """
    from tempo_coach.coach.drills import load_drill
    from tempo_coach.coach.todays_practice import find_drills_of, know, rows_of
    from tempo_coach.history.roster import find_person, people_folder
    from tempo_coach.history.season import judge_goal, season_of, weeks_back
    from tempo_coach.history.standing import find_standings

    person = find_person(people_folder(file), name)
    rows = rows_of(file, person.name, until=day)
    season = season_of(rows)
    drills, _ = find_drills_of(person, rows, day=day)
    told = []
    for goal in person.goals:
        if (day - goal.on).days > _SHOWN_AFTER:
            continue
        drill = drills.get(goal.drill) or load_drill(goal.drill)
        (standing,) = find_standings(season, {goal.drill: know(drill)}, today=day)
        weeks = weeks_back(goal, today=day, tempo_bpm=standing.tempo_bpm, cues=standing.cues)
        told.append(JudgedGoal(goal, drill.title, judge_goal(season, goal, today=day), weeks))
    return tuple(told)


#: Days for which a goal is shown whose day is over.
_SHOWN_AFTER = 31


def set_goal(file: Path, name: str, goal: Goal, *, day: date) -> Person:
    """Set somebody's goal, replacing one of the same drill and day, and return her.

    Raises
    ------
    CoachError
        If its day is over, there is no such drill, or it cannot be written.
    """
    from tempo_coach.coach.drills import load_drill
    from tempo_coach.history.roster import find_person, people_folder, save_person
    from tempo_coach.pattern.plan.layout import check_tempo

    if goal.on < day:
        raise CoachError("goal.day_over", where="--by", day=goal.on)
    check_tempo(goal.tempo_bpm, where="--tempo")
    drill = load_drill(goal.drill)
    folder = people_folder(file)
    person = find_person(folder, name).with_goal(replace(goal, drill=drill.name))
    save_person(folder, person)
    return person


def drop_goal(file: Path, name: str, drill: str) -> int:
    """Remove the goals of a drill, and return how many there were.

    Raises
    ------
    CoachError
        If there is none, or it cannot be written.
    """
    from tempo_coach.history.roster import find_person, people_folder, save_person

    folder = people_folder(file)
    person = find_person(folder, name)
    kept = tuple(goal for goal in person.goals if goal.drill != drill)
    if len(kept) == len(person.goals):
        raise CoachError("goal.none", where="--drop", athlete=person.name, drill=drill)
    save_person(folder, replace(person, goals=kept))
    return len(person.goals) - len(kept)
