"""A group's performances over time in words: how together it gets, and where each member is in it."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from tempo_coach.history.progress import LEVEL_DAYS, trend_of
from tempo_coach.languages import in_english, tr
from tempo_coach.report.words.amounts import several
from tempo_coach.report.words.group import LONGEST_NAME
from tempo_coach.report.words.history import WIDTH, spark
from tempo_coach.report.words.reasons import say_reason
from tempo_coach.signs import cut, wrap

if TYPE_CHECKING:
    from collections.abc import Sequence

    from tempo_coach.history.performances import GroupPerformance, MemberFigures
    from tempo_coach.history.progress import Trend

#: Performances that are listed one by one, the newest.
LISTED = 12


def format_team(performances: Sequence[GroupPerformance]) -> str:
    """Return the course of a group, drill by drill, as text of at most 80 columns."""
    first, last = performances[0], performances[-1]
    lines = [
        *wrap(
            tr(
                "{team}: {performances}, {day} to {day_2}",
                team=first.team,
                performances=several(len(performances), "performance"),
                day=first.day,
                day_2=last.day,
            ),
            WIDTH,
        )
    ]
    for mine in by_drill(performances):
        lines += ["", *wrap(tr(mine[0].title), WIDTH)]
        trend = _width_of(mine)
        lines += wrap(f"  {tell_width(trend)}", WIDTH, subsequent_indent="  ")
        if len(trend.points) > 1:
            lines.append(f"  {spark([point.value for point in trend.points], WIDTH - 2)}")
        lines += [
            "",
            tr("  number  day         members  first to last   spread  left"),
        ]
        lines += [_row(each) for each in mine[-LISTED:]]
        lines += ["", tr("  Each from the others, late positive:")]
        lines += [line for name in _members(mine) for line in _tell_member(name, mine)]
    return "\n".join(lines)


@in_english
def team_to_dict(performances: Sequence[GroupPerformance]) -> dict[str, object]:
    """Return the same as plain values."""
    return {
        "group": performances[0].team,
        "performances": [
            {
                **{name: _plain(value) for name, value in each._asdict().items() if name != "members"},
                "members": [{name: _plain(v) for name, v in m._asdict().items()} for m in each.members],
            }
            for each in performances
        ],
        "progress": [
            {
                "drill": mine[0].drill,
                "width": _with_reason(_width_of(mine)),
                "members": {
                    name: {"offset_ms": _plain(_where(name, mine)), "distance": _with_reason(_distance_of(name, mine))}
                    for name in _members(mine)
                },
            }
            for mine in by_drill(performances)
        ],
    }


def by_drill(performances: Sequence[GroupPerformance]) -> list[list[GroupPerformance]]:
    """Return the performances of each drill, in the order in which they were first done."""
    found: dict[str, list[GroupPerformance]] = {}
    for each in performances:
        found.setdefault(each.drill, []).append(each)
    return list(found.values())


def tell_width(trend: Trend) -> str:
    """Return the distance from the first to the last member, and its change, as a sentence."""
    if math.isnan(trend.level):
        return tr("From the first to the last: {reason}.", reason=say_reason(trend.reason))
    days = min(len(trend.points), LEVEL_DAYS)
    level = tr(
        "From the first to the last {level:.0f} ms ({days})"
        if math.isnan(trend.low)
        else "From the first to the last {level:.0f} ms ({days}, between {low:.0f} and {high:.0f})",
        level=trend.level,
        days=_days(days),
        low=trend.low,
        high=trend.high,
    )
    if math.isnan(trend.ratio):
        return f"{level}; {say_reason(trend.reason)}."
    if not trend.beyond_chance:
        return tr("{level}: no change beyond chance in the last {days} days.", level=level, days=trend.days)
    return tr(
        "{level} and getting closer together: {ratio:+.0f} % over the last {days} days."
        if trend.ratio < 1
        else "{level} and getting further apart: {ratio:+.0f} % over the last {days} days.",
        level=level,
        ratio=100 * (trend.ratio - 1),
        days=trend.days,
    )


def _days(days: int) -> str:
    return tr("one day") if days == 1 else tr("middle of the last {days} days", days=days)


def _row(each: GroupPerformance) -> str:
    left = ", ".join(m.member for m in each.members if m.away)
    line = (
        f"  {each.number:>6}  {each.day:<10}  {len(each.members):>7}  {_ms(each.width_ms):>13}  {_ms(each.sd_ms):>7}"
        f"  {left}"
    )
    return cut(line.rstrip(), WIDTH)


def _members(mine: Sequence[GroupPerformance]) -> list[str]:
    return list(dict.fromkeys(m.member for each in mine for m in each.members))


def _of(name: str, mine: Sequence[GroupPerformance]) -> list[tuple[str, MemberFigures]]:
    return [(each.day, m) for each in mine for m in each.members if m.member == name]


def _where(name: str, mine: Sequence[GroupPerformance]) -> float:
    """Return her position among the others: the median over her last performances."""
    known = [m.offset_ms for _, m in _of(name, mine) if not math.isnan(m.offset_ms)][-LEVEL_DAYS:]
    return sorted(known)[len(known) // 2] if known else math.nan


def _distance_of(name: str, mine: Sequence[GroupPerformance]) -> Trend:
    return trend_of("distance_ms", ((day, abs(m.offset_ms)) for day, m in _of(name, mine)))


def _width_of(mine: Sequence[GroupPerformance]) -> Trend:
    return trend_of("width_ms", ((each.day, each.width_ms) for each in mine))


def _tell_member(name: str, mine: Sequence[GroupPerformance]) -> list[str]:
    trend, of_her = _distance_of(name, mine), _of(name, mine)
    where, away = _where(name, mine), sum(m.away > 0 for _, m in of_her)
    told = tr("not known") if math.isnan(where) else tr("{where:+.0f} ms", where=where)
    if trend.beyond_chance:
        told = tr("{said}, nearer than before" if trend.ratio < 1 else "{said}, further than before", said=told)
    if away:
        told = tr(
            "{said}; left the others in {away} of {performances}",
            said=told,
            away=away,
            performances=several(len(of_her), "performance"),
        )
    told = tr("{name}: {said}", name=cut(name, LONGEST_NAME), said=told)
    return wrap(told, WIDTH, initial_indent="    ", subsequent_indent="      ")


def _with_reason(trend: Trend) -> dict[str, object]:
    return {**trend.to_dict(), "reason": say_reason(trend.reason) or None}


def _ms(number: float) -> str:
    return "" if math.isnan(number) else tr("{number:.0f} ms", number=number)


def _plain(value: object) -> object:
    return None if isinstance(value, float) and math.isnan(value) else value
