"""Today's lists of one person or a group on paper: one card each, with boxes to tick."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING

from tempo_coach.languages import tr
from tempo_coach.report.pages.page import render
from tempo_coach.report.pages.take import CAUTION
from tempo_coach.report.words.amounts import say_day
from tempo_coach.report.words.todays_list import say_item, say_whose

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from tempo_coach.history.roster import Person
    from tempo_coach.history.session_record import SessionRecord

_HOW = (
    (
        "Warm up slowly, and rest a quarter of a minute between two takes. What is not steady is done with more cues, "
        "what is steady with fewer; the last one is done once."
    ),
    (
        "Every cue: a sound on each moment of the movement. Every other cue: sounds every other time round. The ones "
        "only: a sound at the beginning of each time round."
    ),
)


def todays_page(
    sessions: Sequence[tuple[Person, SessionRecord]],
    titles: Mapping[str, str],
    *,
    cautions: Mapping[str, str] | None = None,
) -> str:
    """Return the lists of today.

    Parameters
    ----------
    sessions : sequence of (Person, SessionRecord)
        At least one.
    titles, cautions : mapping of str to str
        Of the drills, by their names.
    """
    day = date.fromisoformat(sessions[0][1].day)
    drills = dict.fromkeys(item.drill for _, record in sessions for item in record.items)
    minded = dict.fromkeys((cautions or {}).get(drill, "") for drill in drills)
    return render(
        "todays_list.html",
        title=tr("Today"),
        about=(
            tr(
                "{day:%A}, {date}: {names}",
                day=day,
                date=say_day(day),
                names=", ".join(person.name for person, _ in sessions),
            ),
        ),
        people=[(person.name, say_whose(person, record.minutes), _rows(record, titles)) for person, record in sessions],
        small_print=[*_HOW, *(tr("Mind: {caution}.", caution=tr(caution)) for caution in minded if caution), CAUTION],
    )


def _rows(record: SessionRecord, titles: Mapping[str, str]) -> list[tuple[str, str, str, str]]:
    """Return heading, title, details and reason of each item, without repetitions."""
    rows: list[tuple[str, str, str, str]] = []
    part, told = "", set()
    for item in record.items:
        line = say_item(item, titles.get(item.drill, item.drill))
        why = "" if (item.drill, item.because) in told else line.why
        rows.append(("" if line.part == part else line.part, tr(line.title), line.how, why))
        told.add((item.drill, item.because))
        part = line.part
    return rows
