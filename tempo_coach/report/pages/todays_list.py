"""Today's lists of one person or a group on paper: one card each, with boxes to tick."""

from __future__ import annotations

from typing import TYPE_CHECKING

from tempo_coach.report.pages.page import render
from tempo_coach.report.pages.take import CAUTION
from tempo_coach.report.words.amounts import several
from tempo_coach.report.words.todays_list import say_item

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from tempo_coach.history.session_record import SessionRecord

_HOW = (
    "Warm up slowly with a wide tolerance, and rest a quarter of a minute between two takes. What is not steady is "
    "done with more cues, what is steady with fewer; the last one is done once."
)


def todays_page(sessions: Sequence[tuple[str, SessionRecord]], titles: Mapping[str, str]) -> str:
    """Return the lists of today.

    Parameters
    ----------
    sessions : sequence of (name, SessionRecord)
        At least one.
    titles : mapping of str to str
        Of the drills, by their names.
    """
    people = []
    for name, record in sessions:
        lines = [say_item(item, titles.get(item.drill, item.drill)) for item in record.items]
        people.append((name, several(record.minutes, "minute"), lines))
    names = ", ".join(name for name, _ in sessions)
    return render(
        "todays_list.html",
        title="Today",
        about=(f"{sessions[0][1].day}: {names}",),
        people=people,
        small_print=[
            _HOW,
            CAUTION,
        ],
    )
