"""Pages on one athlete over time: of her takes, and of her standing in her drills for herself and for her coach."""

from __future__ import annotations

from typing import TYPE_CHECKING

from tempo_coach.errors import CoachError

if TYPE_CHECKING:
    from datetime import date
    from pathlib import Path

    from tempo_coach.history.overview import DrillOverview
    from tempo_coach.history.season import Goal
    from tempo_coach.history.takes import History


def athlete_page_of(file: Path, name: str, *, drill: str | None = None, since: str | None = None) -> str:
    """Return the page of an athlete's takes that count.

    Parameters
    ----------
    file : Path
        The history.
    name, drill, since
        As in :func:`tempo_coach.coach.looking_back.make_wanted`.

    Raises
    ------
    CoachError
        If she has no such take, or something cannot be read.
    """
    from tempo_coach.coach.looking_back import make_wanted
    from tempo_coach.history.takes import History
    from tempo_coach.report.pages.athlete import athlete_page

    wanted = make_wanted(file, athlete=name, drill=drill, since=since, counting=True)
    with History(file, read_only=True) as history:
        rows = history.find(wanted)
        if not rows:
            raise CoachError("report.no_take_of_hers", where="report", athlete=wanted.athlete)
        return athlete_page(rows, notes=history.notes(athlete=wanted.athlete))


def gymnast_page_of(file: Path, name: str, *, day: date) -> str:
    """Return the page for a gymnast and her parents.

    Raises
    ------
    CoachError
        If she has no take that counts, or something cannot be read.
    """
    from tempo_coach.history.records import read_name
    from tempo_coach.history.takes import History
    from tempo_coach.report.pages.gymnast import gymnast_page

    with History(file, read_only=True) as history:
        overview, not_begun = _overview(history, name, day)
        if not overview:
            raise CoachError("report.no_take_counts", where="report", athlete=read_name(name))
        return gymnast_page(read_name(name), overview, today=day, not_begun=not_begun)


def table_page_of(file: Path, name: str | None, *, day: date) -> str:
    """Return the coach's table of one person, or of everybody with a take that counts.

    Raises
    ------
    CoachError
        If there is nobody, or something cannot be read.
    """
    from tempo_coach.history.records import read_name
    from tempo_coach.history.roster import find_person, people_folder
    from tempo_coach.history.takes import History
    from tempo_coach.report.pages.coachs_table import coachs_page

    with History(file, read_only=True) as history:
        names = [read_name(name)] if name else [each.name for each in history.athletes() if each.takes]
        if not names:
            raise CoachError("report.nobody_yet", where=str(file))
        found = {each: _overview(history, each, day) for each in names}
        told = {each: overview for each, (overview, _) in found.items() if overview}
        if not told:
            raise CoachError("report.no_take_counts", where=str(file), athlete=None)
        folder = people_folder(history.path)
        return coachs_page(
            told,
            today=day,
            not_begun={each: goals for each, (_, goals) in found.items() if goals},
            levels={each: find_person(folder, each).level for each in told},
        )


def _overview(history: History, name: str, day: date) -> tuple[tuple[DrillOverview, ...], tuple[tuple[Goal, str], ...]]:
    """Return somebody's standing in her drills, and the goals without takes, with their titles."""
    from tempo_coach.coach.todays_practice import find_drills_of
    from tempo_coach.history.overview import overview_of
    from tempo_coach.history.records import Wanted
    from tempo_coach.history.roster import find_person, people_folder

    person = find_person(people_folder(history.path), name)
    rows = history.find_briefly(Wanted(athlete=name, until=day.isoformat(), counting=True))
    begun = {row.drill for row in rows}
    not_begun = [goal for goal in person.goals if goal.on >= day and goal.drill not in begun]
    overview = overview_of(rows, today=day, goals=person.goals)
    drills = find_drills_of(person, rows, day=day)[0] if not_begun else {}
    titles = {name: drill.title for name, drill in drills.items()}
    return overview, tuple((goal, titles.get(goal.drill, goal.drill)) for goal in not_begun)
