"""The history as both front ends use it: takes found, shown, put right, noted, copied; a person removed.

A history is named by its file: ``find_history`` has the one of the data folder where nobody names another.
"""

from __future__ import annotations

from datetime import date, datetime
from pathlib import Path
from typing import TYPE_CHECKING

from tempo_coach.errors import CoachError
from tempo_coach.history.columns import TakeRow
from tempo_coach.history.data_folder import history_file
from tempo_coach.history.forget import Going
from tempo_coach.history.progress import LEVEL_DAYS, Trend, measure_progress
from tempo_coach.history.records import SOMEBODY, Kept, Wanted, read_begun, read_day, read_name
from tempo_coach.history.store import Store, back_up, restore
from tempo_coach.history.takes import History

if TYPE_CHECKING:
    from collections.abc import Sequence

    from tempo_coach.history.performances import GroupPerformance
    from tempo_coach.history.records import Athlete
    from tempo_coach.score.scorecard import Scorecard

__all__ = [
    "LEVEL_DAYS",
    "SOMEBODY",
    "Going",
    "History",
    "Kept",
    "TakeRow",
    "Trend",
    "Wanted",
    "back_up",
    "check_history",
    "find_going",
    "find_history",
    "find_rows",
    "forget_athlete",
    "list_athletes",
    "list_performances",
    "list_teams_in",
    "make_wanted",
    "measure_progress",
    "now",
    "open_there",
    "put_note",
    "read_begun",
    "read_name",
    "refuse_two_courses",
    "restore",
    "show_take",
]


def find_history(named: str | Path | None = None) -> Path:
    """Return the file of the history: the given one, else that of the data folder; it may not be there yet."""
    return Path(named) if named else history_file()


def now() -> str:
    """Return date and time to the second with the zone, ISO 8601."""
    return datetime.now().astimezone().isoformat(timespec="seconds")


def make_wanted(
    file: Path,
    *,
    athlete: str | None = None,
    drill: str | None = None,
    routine: str | None = None,
    since: str | None = None,
    until: str | None = None,
    words: str = "",
    last: int | None = None,
    counting: bool = False,
) -> Wanted:
    """Return a query for takes of what was typed.

    Parameters
    ----------
    file : Path
        The history.
    athlete : str or None
        The first letters of a name.
    routine : str or None
        A name, or the file of a routine.
    since, until : str or None
        Days as :func:`tempo_coach.history.records.read_day` reads them.
    drill, words, last, counting
        As in :class:`~tempo_coach.history.records.Wanted`.

    Raises
    ------
    CoachError
        If nobody is called so, a day is none, or the routine's file cannot be read.
    """
    from tempo_coach.coach.archiving import name_routine
    from tempo_coach.coach.athletes import find_name

    today = date.today()
    return Wanted(
        None if athlete is None else find_name(file, athlete),
        drill,
        None if routine is None else name_routine(routine),
        None if since is None else read_day(since, today=today, where="--since"),
        None if until is None else read_day(until, today=today, where="--until"),
        words,
        last,
        counting,
    )


def find_rows(file: Path, wanted: Wanted) -> tuple[tuple[TakeRow, ...], int]:
    """Return the takes that are wanted, the oldest first, and how many takes the history has.

    Raises
    ------
    CoachError
        If the history cannot be read.
    """
    with History(file, read_only=True) as history:
        return history.find(wanted), history.count()[1]


def refuse_two_courses(rows: Sequence[TakeRow], *, where: str) -> None:
    """Refuse takes that are not the course of one athlete in one drill.

    Raises
    ------
    CoachError
        If there is none, or they are of several athletes or drills.
    """
    if not rows:
        raise CoachError("history.nothing_like_that", where=where)
    if len(athletes := {row.athlete for row in rows}) > 1:
        raise CoachError("history.several_athletes", where=where, some=", ".join(sorted(athletes)[:6]))
    if len(drills := {row.drill for row in rows}) > 1:
        raise CoachError("history.several_drills", where=where, some=", ".join(sorted(drills)[:6]))


def list_athletes(file: Path) -> tuple[Athlete, ...]:
    """Return who is in the history."""
    with History(file, read_only=True) as history:
        return history.athletes()


def list_teams_in(file: Path) -> tuple[str, ...]:
    """Return the names of the groups in the history; none where there is no history."""
    from tempo_coach.history.performances import list_teams

    if not file.exists():
        return ()
    with History(file, read_only=True) as history:
        return list_teams(history)


def list_performances(file: Path, team: str, wanted: Wanted, *, where: str) -> tuple[GroupPerformance, ...]:
    """Return the performances of a group within the drill and the days of a query.

    Raises
    ------
    CoachError
        If there is none.
    """
    from tempo_coach.history.performances import find_performances

    with History(file, read_only=True) as history:
        found = find_performances(history, team, drill=wanted.drill, since=wanted.since, until=wanted.until)
    if not found:
        raise CoachError("history.nothing_like_that", where=where)
    return found


def show_take(file: Path, number: int) -> tuple[Kept, Scorecard]:
    """Return a take with its notes, and its scorecard, judged again.

    Raises
    ------
    CoachError
        If there is no such take.
    """
    from tempo_coach.coach.archiving import judge_kept

    with History(file, read_only=True) as history:
        kept = history.take(number)
    return kept, judge_kept(kept)


def put_note(file: Path, number: int, text: str) -> None:
    """Keep a note on a take.

    Raises
    ------
    CoachError
        If there is no such take, or the note is too long.
    """
    with History(file) as history:
        history.put_note(text, written=now(), take=number)


def check_history(file: Path) -> None:
    """Read the whole history once.

    Raises
    ------
    CoachError
        If it is damaged, or not there.
    """
    with Store(file, read_only=True) as store:
        store.check()


def find_going(file: Path, athlete: str) -> Going:
    """Return what would be removed with an athlete.

    Raises
    ------
    CoachError
        If there is no such history, or no such athlete in it.
    """
    from tempo_coach.history import forget

    with open_there(file) as history:
        return forget.find_going(history, athlete)


def forget_athlete(file: Path, going: Going) -> None:
    """Remove an athlete for good.

    Raises
    ------
    CoachError
        If the history cannot be written.
    """
    from tempo_coach.history import forget

    with open_there(file) as history:
        forget.forget(history, going)


def open_there(file: Path) -> History:
    """Return a history opened for writing, which has to be there.

    Raises
    ------
    CoachError
        If there is none, or it cannot be written.
    """
    Store(file, read_only=True).close()  # refuses where there is none instead of making one
    return History(file)
