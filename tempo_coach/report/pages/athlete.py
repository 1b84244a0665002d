"""The report of an athlete over time as one HTML page: of each drill the level, the tempo, the nights, the doses."""

from __future__ import annotations

import math
from datetime import date
from typing import TYPE_CHECKING

from tempo_coach.history.progress import CHANGE_DAYS, LEVEL_DAYS, find_sessions, measure_progress, measure_retention
from tempo_coach.history.steady_tempo import find_steady_tempo
from tempo_coach.languages import tr
from tempo_coach.report.pages.page import Figure, Table, render
from tempo_coach.report.pages.plot import make_picture, room, ticks
from tempo_coach.report.pages.take import CAUTION
from tempo_coach.report.words.amounts import begin, say_decimal, several
from tempo_coach.report.words.history import TOLD, tell_progress, tell_retention, tell_tempo
from tempo_coach.report.words.places import say_what_is_steady

if TYPE_CHECKING:
    from collections.abc import Sequence

    from tempo_coach.history.columns import TakeRow
    from tempo_coach.history.progress import Retention, Session, Trend
    from tempo_coach.history.records import Note
    from tempo_coach.history.steady_tempo import SteadyTempo
    from tempo_coach.report.pages.plot import Plot

#: Drills that have a part of their own, those with the most takes first; and sessions and takes that are shown.
MOST_DRILLS, MOST_SESSIONS, MOST_TAKES = 8, 60, 60

_CHANGE_IN_WORDS = (
    "A change is told where the 98 % interval of a robust line through the last {days} days, on a logarithmic scale, "
    "leaves out that there is none, and the level has moved to the same side."
)


def athlete_page(rows: Sequence[TakeRow], *, notes: Sequence[Note] = ()) -> str:
    """Return the report of one athlete.

    Parameters
    ----------
    rows : sequence of TakeRow
        Her takes, the oldest first, at least one.
    """
    drills: dict[str, list[TakeRow]] = {}
    for row in rows:
        drills.setdefault(row.drill, []).append(row)
    ordered = sorted(drills.values(), key=len, reverse=True)
    sessions = find_sessions(rows)
    about = (
        tr(
            "{takes} in {sessions}, {day} to {day_2}",
            takes=several(len(rows), "take"),
            sessions=several(len(sessions), "session"),
            day=rows[0].day,
            day_2=rows[-1].day,
        ),
        tr(
            "{number:.1f} hours of practice, {number_2} moments",
            number=sum(s.seconds for s in sessions) / 3600,
            number_2=sum(s.moments for s in sessions),
        ),
    )
    left_out = len(ordered) - MOST_DRILLS
    return render(
        "athlete.html",
        title=rows[0].athlete,
        about=about,
        sentence=_tell_best(ordered),
        numbers=_numbers(rows, sessions),
        drills=[
            (tr("{name}: {said}", name=tr(mine[0].title), said=several(len(mine), "take")), _of_drill(mine))
            for mine in ordered[:MOST_DRILLS]
        ],
        doses=[_doses(sessions)],
        notes=[f"{note.written[:10]}: {note.text}" for note in notes[-20:]],
        small_print=[
            tr(
                "The level is the median of the last {level_days} days; their least and greatest are its interval.",
                level_days=LEVEL_DAYS,
            ),
            tr(_CHANGE_IN_WORDS, days=CHANGE_DAYS),
            tr("Kept overnight: the spread of a day's first take over that of the last one of the day before."),
            say_what_is_steady(),
            *(
                [tr("{left_out} more drills with fewer takes are not shown.", left_out=left_out)]
                if left_out > 0
                else []
            ),
            CAUTION,
        ],
    )


def _tell_best(drills: Sequence[Sequence[TakeRow]]) -> str:
    """Return a sentence on the clearest change among all drills, or that there is none yet."""
    found: list[tuple[float, str]] = []
    for rows in drills:
        for measure, name, unit in TOLD[:1]:
            progress = measure_progress(rows, measure=measure)
            if measure_progress(rows, measure=measure, among=len(drills)).beyond_chance:
                told = tell_progress(progress, name, unit)
                found.append((abs(math.log(progress.ratio)), tr("{name}: {said}", name=tr(rows[0].title), said=told)))
    return (
        max(found)[1] if found else tr("Too early to tell a change: practise on, and look again after a few more days.")
    )


def _numbers(rows: Sequence[TakeRow], sessions: Sequence[Session]) -> list[tuple[str, str, str]]:
    last = sessions[-1]
    steady = sum(row.steady for row in rows)
    return [
        (tr("takes"), str(len(rows)), several(len(sessions), "session")),
        (
            tr("steady takes"),
            say_decimal(steady / len(rows), ".0%"),
            tr("{steady} of {number}", steady=steady, number=len(rows)),
        ),
        (
            tr("last session"),
            several(last.takes, "take"),
            f"{last.begun[:10]}, {several(round(last.seconds / 60), 'minute')}",
        ),
        (
            tr("moments in it"),
            str(last.moments),
            tr("{cycles}, steady takes: {steady}", cycles=several(last.cycles, "cycle"), steady=last.steady),
        ),
    ]


def _of_drill(rows: Sequence[TakeRow]) -> list[Figure]:
    """Return the section of one drill: levels and changes, tempo, nights, last takes."""
    drawn = [_progress(rows, *told) for told in TOLD]
    drawn += [_tempo(find_steady_tempo(rows)), _nights(measure_retention(rows)), _takes(rows[-MOST_TAKES:])]
    return drawn


def _progress(rows: Sequence[TakeRow], measure: str, name: str, unit: str) -> Figure:
    progress = measure_progress(rows, measure=measure)
    return Figure(
        begin(tr(name)),
        tell_progress(progress, name, unit),
        draw_progress(progress, tr("{unit} of {name}", unit=unit, name=tr(name))),
        Table(("day", unit, "takes"), [[p.day, say_decimal(p.value, ".1f"), str(p.takes)] for p in progress.points]),
    )


def _tempo(tempo: SteadyTempo) -> Figure:
    return Figure(
        tr("Steady takes by tempo"),
        f"{tell_tempo(tempo)} {tr('The line never rises with the tempo.')}",
        draw_tempo(tempo),
        Table(
            (tr("beats a minute"), "takes", tr("steady %"), tr("smoothed %")),
            [[f"{b:.0f}", str(n), f"{100 * s:.0f}", f"{100 * m:.0f}"] for b, n, s, m in tempo.shares],
        ),
    )


def _nights(retention: Retention) -> Figure:
    return Figure(
        tr("Kept overnight"),
        tell_retention(retention),
        draw_nights(retention),
        Table(
            ("night", tr("before, ms"), tr("after, ms")),
            [
                [
                    tr("{from_day} to {to_day}", from_day=n.from_day, to_day=n.to_day),
                    f"{n.before_ms:.0f}",
                    f"{n.after_ms:.0f}",
                ]
                for n in retention.nights
            ],
        ),
    )


def _takes(rows: Sequence[TakeRow]) -> Figure:
    return Figure(
        tr("The last takes"),
        tr("Each mark is a take, a square one was steady."),
        draw_takes(rows),
        Table(("take", "begun", "tempo", tr("ms late"), "spread", "flagged"), [_take(row) for row in rows]),
    )


def _take(row: TakeRow) -> list[str]:
    return [
        str(row.number),
        row.begun[:16].replace("T", " "),
        f"{row.tempo_bpm:.0f}",
        _plain(row.bias_ms, "+.0f"),
        _plain(row.spread_ms, ".0f"),
        str(row.flagged),
    ]


def draw_progress(progress: Trend, name: str) -> str:
    """Return level and change as SVG: a mark a day, and over the last days the level with its interval."""
    if len(progress.points) < 2:
        return ""
    since = [p.since for p in progress.points]
    high = max(p.value for p in progress.points) * 1.12 or 1.0
    picture = make_picture(name, (since[0], since[-1]), (0.0, high))
    picture.grid_y(lambda value: f"{value:g}", name=name)
    first, last = since[-LEVEL_DAYS:][0], since[-1]
    if not math.isnan(progress.low):
        low, top = progress.low, progress.high
        picture.area([(first, low), (last, low), (last, top), (first, top)], "between")
    picture.line([(first, progress.level), (last, progress.level)], "fit")
    for point in progress.points:
        picture.mark(point.since, point.value, 0)
    _days(picture, progress.points[0].day)
    return picture.svg()


def draw_tempo(tempo: SteadyTempo) -> str:
    """Return the share of steady takes at each tempo as SVG."""
    if len(tempo.shares) < 2:
        return ""
    bpms = [share[0] for share in tempo.shares]
    picture = make_picture(tr("Steady takes by tempo"), room(bpms, least=8), (0.0, 105.0))
    picture.grid_y(lambda value: f"{value:g}", name="% of the takes were steady")
    picture.line([(picture.x.low, 80), (picture.x.high, 80)], "mean")
    if not math.isnan(tempo.low):
        picture.line([(tempo.low, 80), (tempo.high, 80)], "l0 arc")
    picture.line([(bpm, 100 * smooth) for bpm, _, _, smooth in tempo.shares], "l0")
    for bpm, _, share, _ in tempo.shares:
        picture.mark(bpm, 100 * share, 0)
    picture.grid_x([(value, f"{value:g}") for value in ticks(picture.x.low, picture.x.high, 7)], name="beats a minute")
    return picture.svg()


def draw_nights(retention: Retention) -> str:
    """Return spread before and after each night as SVG, joined by a line."""
    nights = retention.nights[-MOST_SESSIONS:]
    if not nights:
        return ""
    high = max(max(night.before_ms, night.after_ms) for night in nights) * 1.12
    picture = make_picture(tr("Spread before and after each night"), (0.4, len(nights) + 0.6), (0.0, high))
    picture.grid_y(lambda value: f"{value:g}", name="ms of spread: ● before the night, ■ after it")
    for k, night in enumerate(nights, start=1):
        picture.line([(k - 0.15, night.before_ms), (k + 0.15, night.after_ms)], "l0")
        picture.mark(k - 0.15, night.before_ms, 0)
        picture.mark(k + 0.15, night.after_ms, 1)
    picture.grid_x([(k, night.to_day[5:]) for k, night in enumerate(nights, start=1)], name="day after")
    return picture.svg()


def draw_takes(rows: Sequence[TakeRow]) -> str:
    """Return the spread of successive takes as SVG."""
    known = [(k, row) for k, row in enumerate(rows, start=1) if not math.isnan(row.spread_ms)]
    if len(known) < 2:
        return ""
    high = max(row.spread_ms for _, row in known) * 1.12 or 1.0
    picture = make_picture(tr("Spread of the last takes"), (0.5, len(rows) + 0.5), (0.0, high))
    picture.grid_y(lambda value: f"{value:g}", name="ms of spread")
    picture.line([(k, row.spread_ms) for k, row in known], "l0")
    for k, row in known:
        picture.mark(k, row.spread_ms, 1 if row.steady else 0)
    picture.grid_x([(k, row.day[5:]) for k, row in known], name="take, by its day")
    return picture.svg()


def _doses(sessions: Sequence[Session]) -> Figure:
    shown = sessions[-MOST_SESSIONS:]
    return Figure(
        tr("Moments in each session"),
        tr(
            "The last {number} sessions; an hour without a take ends one. The dark part is of steady takes.",
            number=len(shown),
        ),
        draw_doses(shown),
        Table(
            ("session", "takes", "minutes", "cycles", "moments", tr("steady takes")),
            [
                [
                    s.begun[:16].replace("T", " "),
                    str(s.takes),
                    f"{s.seconds / 60:.0f}",
                    str(s.cycles),
                    str(s.moments),
                    str(s.steady),
                ]
                for s in shown
            ],
        ),
    )


def draw_doses(sessions: Sequence[Session]) -> str:
    """Return the moments of each session as SVG bars; the dark part in proportion to its steady takes."""
    high = max(session.moments for session in sessions) * 1.1 or 1.0
    picture = make_picture(tr("Moments in each session"), (0.5, len(sessions) + 0.5), (0.0, high))
    picture.grid_y(lambda value: f"{value:g}", name="moments")
    for k, session in enumerate(sessions, start=1):
        picture.column(k, session.moments, "bar rest")
        picture.column(k, session.moments * session.steady / session.takes, "bar")
    picture.grid_x([(k, s.begun[5:10]) for k, s in enumerate(sessions, start=1)], name="session, by its day")
    return picture.svg()


def _days(picture: Plot, first: str) -> None:
    start = date.fromisoformat(first).toordinal()
    days = [date.fromordinal(start + round(value)) for value in (picture.x.low, picture.x.high)]
    one_year = days[0].year == days[1].year
    marks = [
        (value, date.fromordinal(start + round(value)).isoformat()[5 if one_year else 2 :])
        for value in ticks(picture.x.low, picture.x.high, 5)
        if value == round(value)
    ]
    picture.grid_x(
        marks, name=tr("month and day of {year}", year=days[0].year) if one_year else tr("year, month and day")
    )


def _plain(value: float, form: str) -> str:
    return "–" if math.isnan(value) else f"{value:{form}}"
