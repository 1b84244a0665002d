"""Names of those who practise: everybody there is, and who is meant by the first letters of a name."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pathlib import Path


def list_names(file: Path) -> tuple[str, ...]:
    """Return all names, most recent practice first: from the people's files, then from the history."""
    from tempo_coach.history.roster import list_people, people_folder
    from tempo_coach.history.takes import History

    people, _ = list_people(people_folder(file))
    names = [person.name for person in people]
    if file.exists():
        with History(file, read_only=True) as history:
            by_last = sorted(history.athletes(), key=lambda each: each.last, reverse=True)
            names += [athlete.name for athlete in by_last if athlete.name not in names]
    return tuple(names)


def find_name(file: Path, typed: str | None) -> str:
    """Return the name that begins with the given letters; without any, the one with the most recent practice.

    Raises
    ------
    CoachError
        If several begin so, or the history cannot be read.
    """
    from tempo_coach.history.records import SOMEBODY
    from tempo_coach.history.roster import complete_name

    names = list_names(file)
    return (names[0] if names else SOMEBODY) if typed is None else complete_name(typed, names)
