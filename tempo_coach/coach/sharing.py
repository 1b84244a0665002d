"""Histories and people between machines: merged, handed over as one file, written for other programs."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable, Collection, Iterator

    from tempo_coach.history.merge import MergeResult

#: Version of a line of :func:`export_lines`.
EXPORT = 1


def merge_histories(
    file: Path, other: str | Path, *, again: Collection[str] = (), rename: dict[str, str] | None = None
) -> MergeResult:
    """Merge another history, and the settings of its people unless they are known here.

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
    from tempo_coach.history.merge import merge
    from tempo_coach.history.roster import file_of, people_folder
    from tempo_coach.history.takes import History
    from tempo_coach.resources import written_whole

    with History(file) as history:
        merged = merge(history, other, again=again, rename=rename)
    for name, body in merged.people.items():
        path = file_of(people_folder(file), name)
        if not path.exists():
            path.parent.mkdir(parents=True, exist_ok=True)
            with written_whole(path, what="person") as beside:
                beside.touch(mode=0o600)
                beside.write_text(body, encoding="utf-8")
    return merged


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
