"""One page for a gymnast and her parents: what is better, what to work on, what comes next, and one picture."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from tempo_coach.history.overview import BEFORE, best_change, nearest_goal
from tempo_coach.history.season import EVEN_PCT, Outlook
from tempo_coach.languages import tr
from tempo_coach.report.pages.page import render
from tempo_coach.report.pages.plot import WIDTH, make_picture, ticks
from tempo_coach.report.words.amounts import say_day, several
from tempo_coach.signs import cut

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import date

    from tempo_coach.history.overview import DrillOverview
    from tempo_coach.history.season import Goal

#: Drills that the picture shows, those with the most takes.
MOST_DRILLS = 8
#: Takes below which a drill is too new for the picture.
LEAST_TAKES = 4
_OUTLOOKS = {
    Outlook.ON_THE_WAY: "That is on the way.",
    Outlook.NOT: "As it goes now that will not be reached: talk with your coach about the day or the tempo.",
    Outlook.CANNOT_TELL: "Whether that will be reached cannot be told yet.",
}
#: Ways of cueing, for whoever has never heard of cues.
_SOUNDS = {
    "all": "with a sound on every moment",
    "alternate": "with sounds every other time round",
    "ones": "with a sound at its beginning only",
    "none": "without any sounds to help",
}


def gymnast_page(
    name: str, overview: Sequence[DrillOverview], *, today: date, not_begun: Sequence[tuple[Goal, str]] = ()
) -> str:
    """Return the page.

    Parameters
    ----------
    name : str
    overview : sequence of DrillOverview
        Her drills, the least even first; at least one.
    today : date
    not_begun : sequence of (Goal, str)
        Goals of drills that she has no take of, with their titles.
    """
    takes, since = sum(each.takes for each in overview), min(each.since for each in overview)
    return render(
        "gymnast.html",
        title=name,
        about=(
            tr(
                "{say}, from {takes} since {say_2}",
                say=say_day(today),
                takes=several(takes, "take"),
                say_2=say_day(since),
            ),
        ),
        better=say_better(overview),
        work_on=say_work_on(overview),
        next=say_next(overview, not_begun),
        picture=draw_drills(overview),
        reading_name=tr("How even the movements are"),
        reading=tr(
            "The same movement again and again should last equally long each time. The picture shows by how much "
            "it lasts longer or shorter than usual: 4 % of a movement of two seconds are 0.08 seconds. Further "
            "left is more even, and left of the dashed line is even. ● is now, ■ was {before} weeks ago.",
            before=BEFORE // 7,
        ),
        small_print=tr("All of this sets her beside herself alone. It is no mark and no judge's opinion."),
    )


def say_better(overview: Sequence[DrillOverview]) -> str:
    """Return one sentence on what has improved."""
    best = best_change(overview)
    if best is not None:
        return tr(
            "Better: “{title}” is more even than {before} weeks ago: the time that it takes differs by {pct:.1f} "
            "%, and then it was {pct_2:.1f} %.",
            title=tr(best.title),
            before=BEFORE // 7,
            pct=best.now.pct,
            pct_2=best.before.pct,
        )
    if all(math.isnan(each.before.log) for each in overview):
        return tr(
            "Better: what has become better can be told when you have practised for {before} weeks.", before=BEFORE // 7
        )
    return tr(
        "Better: nothing so far that is surely more than good and bad days; keep on, it takes some weeks to show."
    )


def say_work_on(overview: Sequence[DrillOverview]) -> str:
    """Return one sentence on what to work on."""
    least = overview[0]
    even = math.log(EVEN_PCT)
    if least.now.log + least.now.se < even:
        return tr(
            "To work on: all of it is even, so make “{title}” faster, or do it with fewer sounds to help.",
            title=tr(least.title),
        )
    if least.now.log - least.now.se < even:
        return tr(
            "To work on: “{title}” is even on some days and not on others: the time that it takes differs by about "
            "{pct:.1f} %, and up to {even_pct:g} % is even.",
            title=tr(least.title),
            pct=least.now.pct,
            even_pct=EVEN_PCT,
        )
    return tr(
        "To work on: “{title}” is not even yet: the time that it takes differs by about {pct:.0f} % from one time "
        "to the next, and up to {even_pct:g} % is even.",
        title=tr(least.title),
        pct=least.now.pct,
        even_pct=EVEN_PCT,
    )


def say_next(overview: Sequence[DrillOverview], not_begun: Sequence[tuple[Goal, str]] = ()) -> str:
    """Return one or two short sentences on what comes next."""
    found = nearest_goal(overview)
    ahead = [(goal, title, tr("You have not begun with it yet.")) for goal, title in not_begun]
    if found is not None:
        ahead.append((found[1], tr(found[0].title), tr(_OUTLOOKS[found[2].outlook])))
    if not ahead:
        return tr(
            "Next: practise “{title}” first each day, a little at a time, on as many days as you can.",
            title=tr(overview[0].title),
        )
    goal, title, outlook = min(ahead, key=lambda each: each[0].on)
    by = f"{say_day(goal.on)} ({goal.what})" if goal.what else say_day(goal.on)
    return tr(
        "Next: “{title}” even at {tempo_bpm:.0f} beats a minute, {get}, by {by}. {outlook}",
        title=title,
        tempo_bpm=goal.tempo_bpm,
        get=tr(_SOUNDS.get(goal.cues, "")),
        by=by,
        outlook=outlook,
    )


def draw_drills(overview: Sequence[DrillOverview]) -> str:
    """Return the one picture: a row a drill, from a month ago to now; empty without data."""
    shown = sorted([each for each in overview if each.takes >= LEAST_TAKES], key=lambda each: -each.takes)[:MOST_DRILLS]
    if not shown:
        return ""
    shown.sort(key=lambda each: -each.now.log)
    pcts = [each.now.pct for each in shown] + [each.before.pct for each in shown if not math.isnan(each.before.log)]
    high = max(max(pcts) * 1.12, EVEN_PCT * 1.3)
    picture = make_picture(
        tr("How even the movements are"),
        (0.0, high),
        (0.4, len(shown) + 0.9),
        height=80.0 + 46.0 * len(shown),
        left=14.0,
    )
    picture.lines_up()
    x = picture.x(EVEN_PCT)
    picture.rise(x, "mean")
    picture.text(x - 5, picture.y.end + 8, tr("← even"), css="name", anchor="end")
    for place, each in enumerate(reversed(shown), start=1):
        room = int((WIDTH - 24) / 8)
        title = cut(tr(each.title), room)
        picture.text(picture.x.start + 2, picture.y(place + 0.32), title, css="name")
        if not math.isnan(each.before.log):
            picture.line([(each.before.pct, place), (each.now.pct, place)], "l0")
            picture.mark(each.before.pct, place, 1)
        picture.mark(each.now.pct, place, 0)
    picture.grid_x(
        [(value, f"{value:g} %") for value in ticks(0.0, high, 5)],
        name="by how much longer or shorter than usual",
    )
    return picture.svg()
