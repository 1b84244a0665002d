"""A table of all by drills for the coach: how even now and before, within a day, over a night, and the goals."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from tempo_coach.history.overview import BEFORE, SURELY
from tempo_coach.history.season import EVEN_PCT
from tempo_coach.report.pages.page import Table, render
from tempo_coach.report.pages.take import CAUTION

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from datetime import date

    from tempo_coach.history.overview import DrillOverview

_NAMES = (
    "drill",
    "takes",
    "rested",
    "tempo",
    "uneven now",
    f"{BEFORE // 7} weeks ago",
    "within a day",
    "overnight",
    "goal",
)

_UNEVEN = (
    "Uneven: by how many per cent of a cycle the cycles differ (SD), at the tempo of the last take with every cue, "
    f"with its standard error; up to {EVEN_PCT:g} % is even. ↓ and ↑: more or less even than {BEFORE // 7} weeks "
    f"ago by more than {SURELY:g} standard errors."
)
_KEPT = (
    "Within a day: unevenness of a day's last take over that of its first one. Overnight: spread of the first take of "
    "a day over that of the last one of the day before; 1 is kept, more is lost."
)


def coachs_page(people: Mapping[str, Sequence[DrillOverview]], *, today: date) -> str:
    """Return the table of everybody by drills, each person's least even one first.

    Parameters
    ----------
    people : mapping of name to sequence of DrillOverview
    today : date
    """
    return render(
        "coachs_table.html",
        title="By drills",
        about=(f"{today.day} {today:%B %Y}",),
        people=[(name, Table(_NAMES, [row_of(each) for each in overview])) for name, overview in people.items()],
        small_print=[
            _UNEVEN,
            _KEPT,
            "Nothing here sets one person beside another.",
            CAUTION,
        ],
    )


def row_of(each: DrillOverview) -> list[str]:
    """Return the row of one drill."""
    sign = "" if math.isnan(each.change) or abs(each.change) <= SURELY else " ↓" if each.change > 0 else " ↑"
    return [
        each.title,
        str(each.takes),
        f"{each.rested} d",
        f"{each.tempo_bpm:.0f}",
        f"{each.now.pct:.1f} ± {each.now.pct * each.now.se:.1f}{sign}",
        "–" if math.isnan(each.before.log) else f"{each.before.pct:.1f}",
        _ratio(each.within_day),
        _ratio(each.retention.ratio),
        "; ".join(f"{goal.tempo_bpm:.0f} by {goal.on}: {verdict.outlook}" for goal, verdict in each.goals) or "–",
    ]


def _ratio(value: float) -> str:
    return "–" if math.isnan(value) else f"× {value:.2f}"
