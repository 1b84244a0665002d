"""Histories and people between machines: merged, handed over as one file, written for other programs."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable, Collection, Iterator, Mapping

    from tempo_coach.history.merge import MergeResult

#: Version of a line of :func:`export_lines`.
EXPORT = 1


def merge_histories(
    file: Path, other: str | Path, *, again: Collection[str] = (), rename: dict[str, str] | None = None
) -> MergeResult:
    """Merge another history, and what the files of its people say that nothing is said of here.

    Where somebody is in both, a copy of the history as it was stays beside it: they may be two people of one name.

    Parameters
    ----------
    file : Path
        The history, made where there is none.
    other, again, rename
        As in :func:`tempo_coach.history.merge.merge`.

    Raises
    ------
    CoachError
        If either cannot be read or written.
    """
    from tempo_coach.history.merge import merge, names_in
    from tempo_coach.history.takes import History

    other = Path(other)
    itself = file.exists() and other.exists() and other.samefile(file)
    there = frozenset() if itself else names_in(other)
    rename = _names_put_right(file, there) | (rename or {})
    before = _copy_before(file, [rename.get(name, name) for name in there])
    with History(file) as history:
        merged = merge(history, other, again=again, rename=rename)
        here = frozenset(athlete.name for athlete in history.athletes())
    if before is not None and not merged.both:
        before.unlink(missing_ok=True)
        before = None
    _bring_people(file, other, merged, rename, here)
    return replace(merged, before=before)


def _names_put_right(file: Path, there: Collection[str]) -> dict[str, str]:
    """Return under which names those come who have another name here by now."""
    from tempo_coach.history.roster import list_people, people_folder

    people, _ = list_people(people_folder(file))
    names = {person.name for person in people}
    return {old: person.name for person in people for old in person.earlier if old in there and old not in names}


def _copy_before(file: Path, there: Collection[str]) -> Path | None:
    """Keep a history as it is where somebody is among those who come, and return the copy."""
    from tempo_coach.history.records import read_name
    from tempo_coach.history.store import back_up, free_name
    from tempo_coach.history.takes import History

    if not there or not file.exists():
        return None
    with History(file, read_only=True) as history:
        if {read_name(name) for name in there}.isdisjoint(athlete.name for athlete in history.athletes()):
            return None
    copy = free_name(file, "before-merge")
    back_up(file, copy)
    return copy


def _bring_people(
    file: Path, other: Path, merged: MergeResult, rename: Mapping[str, str], here: frozenset[str]
) -> None:
    """Write how the people who came practise: all of it of whom nothing is known here, of the others further goals."""
    from tempo_coach.history.records import read_name
    from tempo_coach.history.roster import (
        find_person,
        list_people,
        parse_person,
        people_folder,
        save_person,
        with_what_is_new,
    )

    folder, there = people_folder(file), people_folder(other)
    people = {name: parse_person(body, where=str(other)) for name, body in merged.people.items()}
    if not (there.exists() and folder.exists() and there.samefile(folder)):
        for person in list_people(there)[0]:
            people.setdefault(read_name(rename.get(person.name, person.name)), person)
    for name, person in people.items():
        if name in here and name not in merged.forgotten:
            known = find_person(folder, name)
            both = with_what_is_new(known, replace(person, name=name))
            if both != known:
                save_person(folder, both)


def hand_over_person(file: Path, name: str, to: str | Path) -> int:
    """Write everything of one athlete to a file, and return the number of takes.

    Raises
    ------
    CoachError
        If there is no such athlete, or it cannot be written.
    """
    from tempo_coach.history.merge import hand_over
    from tempo_coach.history.roster import file_of, people_folder
    from tempo_coach.history.store import Store
    from tempo_coach.history.takes import History
    from tempo_coach.resources import written_whole

    Store(file, read_only=True).close()
    path = file_of(people_folder(file), name)
    person = path.read_text(encoding="utf-8") if path.exists() else ""
    with History(file) as history, written_whole(Path(to)) as beside:
        return hand_over(history, name, beside, person=person)


def export_lines(
    file: Path, *, athlete: str | None = None, progress: Callable[[float], None] | None = None
) -> Iterator[str]:
    """Yield every take whole as one line of JSON, the oldest first.

    Raises
    ------
    CoachError
        If there is no such athlete, or the history cannot be read.
    """
    from tempo_coach.history.records import Wanted
    from tempo_coach.history.takes import History
    from tempo_coach.pattern.plan.plan_file import plan_to_dict
    from tempo_coach.report.words.history import kept_to_dict

    with History(file, read_only=True) as history:
        rows = history.find(Wanted(athlete=athlete))
        for done, row in enumerate(rows, start=1):
            kept = history.take(row.number)
            values = {"version": EXPORT, **kept_to_dict(kept), "plan": plan_to_dict(kept.take.plan)}
            values["scorecard"] = values.pop("scorecard")  # last, as it is the longest
            yield json.dumps(values, ensure_ascii=False, allow_nan=False) + "\n"
            if progress and done % 50 == 0:
                progress(done / len(rows))
