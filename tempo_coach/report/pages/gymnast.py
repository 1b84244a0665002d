"""One page for a gymnast and her parents: what is better, what to work on, what comes next, and one picture."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from tempo_coach.history.overview import BEFORE, best_change, nearest_goal
from tempo_coach.history.season import EVEN_PCT, Outlook
from tempo_coach.report.pages.page import render
from tempo_coach.report.pages.plot import WIDTH, make_picture, ticks

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import date

    from tempo_coach.history.overview import DrillOverview

#: Drills that the picture shows, those with the most takes.
MOST_DRILLS = 8
#: Takes below which a drill is too new for the picture.
LEAST_TAKES = 4
_OUTLOOKS = {
    Outlook.ON_THE_WAY: "That is on the way.",
    Outlook.NOT: "As it goes now, that will not be reached: talk about the day or the tempo.",
    Outlook.CANNOT_TELL: "Whether it will be reached cannot be told yet.",
}


def gymnast_page(name: str, overview: Sequence[DrillOverview], *, today: date) -> str:
    """Return the page.

    Parameters
    ----------
    name : str
    overview : sequence of DrillOverview
        Her drills, the least even first; at least one.
    today : date
    """
    return render(
        "gymnast.html",
        title=name,
        about=(f"{today.day} {today:%B %Y}",),
        better=say_better(overview),
        work_on=say_work_on(overview),
        next=say_next(overview),
        picture=draw_drills(overview),
        reading_name="How even the movements are",
        reading=f"Further left is more even. ● is now, ■ is {BEFORE // 7} weeks ago. "
        "Left of the dashed line a movement counts as even.",
    )


def say_better(overview: Sequence[DrillOverview]) -> str:
    """Return what is better, in one sentence."""
    best = best_change(overview)
    if best is None:
        return "Better: nothing yet that is more than a good or a bad day; that takes some weeks."
    before, now = (round(each.pct, 1) for each in (best.before, best.now))
    return (
        f"Better: “{best.title}” is more even than {BEFORE // 7} weeks ago; one movement differs from the next by "
        f"{now:g} %, then it was {before:g} %."
    )


def say_work_on(overview: Sequence[DrillOverview]) -> str:
    """Return what to work on, in one sentence."""
    least = overview[0]
    if least.now.log + least.now.se < math.log(EVEN_PCT):
        return f"To work on: all of it is even; make “{least.title}” faster, or do it with fewer cues."
    return (
        f"To work on: “{least.title}”, where one movement differs from the next by about {least.now.pct:.0f} %; "
        f"up to {EVEN_PCT:g} % counts as even."
    )


def say_next(overview: Sequence[DrillOverview]) -> str:
    """Return what comes next, in one sentence or two short ones."""
    found = nearest_goal(overview)
    if found is None:
        return f"Next: practise “{overview[0].title}” first each day, a little at a time, on as many days as you can."
    each, goal, verdict = found
    what = f" for {goal.what}" if goal.what else ""
    return (
        f"Next: “{each.title}” even at {goal.tempo_bpm:.0f} beats a minute by {goal.on.day} {goal.on:%B}{what}. "
        f"{_OUTLOOKS[verdict.outlook]}"
    )


def draw_drills(overview: Sequence[DrillOverview]) -> str:
    """Return the one picture: a row a drill, from a month ago to now; empty where nothing can be shown."""
    shown = sorted([each for each in overview if each.takes >= LEAST_TAKES], key=lambda each: -each.takes)[:MOST_DRILLS]
    if not shown:
        return ""
    shown.sort(key=lambda each: -each.now.log)
    pcts = [each.now.pct for each in shown] + [each.before.pct for each in shown if not math.isnan(each.before.log)]
    high = max(max(pcts) * 1.12, EVEN_PCT * 1.3)
    picture = make_picture(
        "How even the movements are", (0.0, high), (0.4, len(shown) + 0.9), height=80.0 + 46.0 * len(shown), left=14.0
    )
    picture.lines_up()
    x = picture.x(EVEN_PCT)
    picture.rise(x, "mean")
    picture.text(x + 5, picture.y.end + 8, "even", css="name")
    for place, each in enumerate(reversed(shown), start=1):
        room = int((WIDTH - 24) / 8)
        title = each.title if len(each.title) <= room else f"{each.title[: room - 1]}…"
        picture.text(picture.x.start + 2, picture.y(place + 0.32), title, css="name")
        if not math.isnan(each.before.log):
            picture.line([(each.before.pct, place), (each.now.pct, place)], "l0")
            picture.mark(each.before.pct, place, 1)
        picture.mark(each.now.pct, place, 0)
    picture.grid_x(
        [(value, f"{value:g} %") for value in ticks(0.0, high, 5)],
        name="by how much one movement differs from the next",
    )
    return picture.svg()
