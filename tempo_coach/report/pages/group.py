"""The report of a group as one HTML page: who is early, who is late, where it falls apart, who follows whom."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from tempo_coach.pattern.drill.count_names import say_count
from tempo_coach.report.pages.page import Figure, Table, render
from tempo_coach.report.pages.plot import BOTTOM, LEFT, TOP, make_picture, room, signed, ticks
from tempo_coach.report.pages.take import CAUTION
from tempo_coach.report.words.group import tell_exchange, tell_group, tell_left
from tempo_coach.report.words.observers import WORDS as OBSERVERS
from tempo_coach.report.words.reasons import say_reason

if TYPE_CHECKING:
    from tempo_coach.score.group.card import GroupCard

#: The column of what the members are held against beside each other.
_AGAINST = {"music": "to the music, ms", "cues": "to the cues, ms", "nothing": "to music, ms"}
#: Moments that fell apart, and pairs, that are told one by one.
MOST_TOLD = 24


def group_page(card: GroupCard, *, title: str = "A group") -> str:
    """Return the report of a group."""
    followers = sorted((p for p in card.pairs if p.follows), key=lambda p: -p.gain)
    following = [
        f"{p.b} follows {p.a}: {p.gain:.0%} of the lead by the next cycle, between {p.low:.0%} and {p.high:.0%}"
        for p in followers
    ]
    apart = [
        f"eight {a.eight} count {say_count(a.count - 1)}: {1000 * a.width:.0f} ms from the first to the last"
        for a in card.apart
    ]
    number = f"{len(card.members)} members" if card.members else "one recording of several people"
    return render(
        "group.html",
        title=title,
        about=[number],
        sentence=tell_group(card),
        numbers=_numbers(card),
        figures=[_members(card), _over_time(card)],
        sheets=[*_by_eights(card), *_sheets(card)],
        left=[tell_left(one) for one in card.left],
        apart=_first(apart),
        following=_first(following),
        exchanges=[line for exchange in card.exchanges for line in tell_exchange(exchange)],
        small_print=[*_small_print(), *(f"{say_reason(reason)}." for reason in card.reasons.values()), CAUTION],
    )


def draw_members(card: GroupCard) -> str:
    """Return where each member is as SVG: against the group, with her spread, and against the music."""
    known = [m for m in card.members if not math.isnan(m.offset)]
    if len(known) < 2:
        return ""
    names = [m.member if len(m.member) <= 20 else f"{m.member[:19]}…" for m in known]
    left = min(max(max(8 * len(name) for name in names) + 14, LEFT), 180.0)
    ends = [1000 * (m.offset + share * m.spread) for m in known for share in (-1, 0, 1) if not math.isnan(m.spread)]
    ends += [1000 * value for m in known for value in (m.offset, m.bias) if not math.isnan(value)]
    picture = make_picture(
        "Each member against the group",
        room(ends, least=80, around=0.0),
        (0.0, float(len(known))),
        height=30 * len(known) + TOP + 8 + BOTTOM,
        left=left,
    )
    picture.lines_up()
    for number, (member, name) in enumerate(zip(known, names, strict=True)):
        height = len(known) - number - 0.5
        y = picture.y(height)
        picture.text(left - 8, y + 5, name, anchor="end", css="strong")
        if not math.isnan(member.spread):
            low, high = (1000 * (member.offset + sign * member.spread) for sign in (-1, 1))
            picture.bar_across(low, high, height)
        if not math.isnan(member.bias):
            x = picture.x(1000 * member.bias)
            picture.box(x - 4, y - 4, x + 4, y + 4, "asked")
        picture.mark(1000 * member.offset, height, 0)
    picture.grid_x(
        [(value, signed(value)) for value in ticks(picture.x.low, picture.x.high, 5)], name="ms: early left, late right"
    )
    return picture.svg()


def draw_over_time(card: GroupCard) -> str:
    """Return how wide the group was in each eight as SVG bars."""
    if not card.over_time:
        return ""
    high = 1000 * max(stretch.width for stretch in card.over_time) * 1.12 or 1.0
    numbers_of = [stretch.eight for stretch in card.over_time]
    picture = make_picture(
        "From the first to the last, by eight", (min(numbers_of) - 0.5, max(numbers_of) + 0.5), (0, high)
    )
    picture.grid_y(lambda value: f"{value:g}", name="ms from the first to the last")
    for stretch in card.over_time:
        picture.column(stretch.eight, 1000 * stretch.width, "bar rest")
        picture.column(stretch.eight, 1000 * stretch.sd, "bar")
    picture.grid_x([(stretch.eight, str(stretch.eight)) for stretch in card.over_time], name="eight")
    return picture.svg()


def _numbers(card: GroupCard) -> list[tuple[str, str, str]]:
    if math.isnan(card.resultant):
        return []
    chance = "" if math.isnan(card.chance) else f"{card.chance:.2f} would be chance"
    return [
        ("together", f"{card.resultant:.2f} of 1", chance),
        ("first to last", f"{1000 * card.width:.0f} ms", "mean over the moments"),
        ("spread", f"{1000 * card.sd:.0f} ms", "mean over the moments"),
        ("moments apart", str(len(card.apart)), f"of {sum(s.n for s in card.over_time)}"),
    ]


def _members(card: GroupCard) -> Figure:
    return Figure(
        "Each member",
        "The mark is where she is against the group, the bar her spread"
        + ("." if card.reference == "nothing" else f"; the hollow square is against the {card.reference}."),
        draw_members(card),
        Table(
            ("member", "to the group, ms", _AGAINST[card.reference], "spread, ms", "n"),
            [
                [m.member, _ms(m.offset, "+z.0f"), _ms(m.bias, "+z.0f"), _ms(m.spread, ".0f"), str(m.n)]
                for m in card.members
            ],
        ),
    )


def _by_eights(card: GroupCard) -> list[Figure]:
    """Members by eights as a table; none where members cannot be told apart."""
    eights = sorted({one.eight for one in card.by_eight})
    if not eights:
        return []
    cells = {(one.member, one.eight): one for one in card.by_eight}
    rows = [
        [m.member, *(_ms(cells[m.member, e].offset, "+z.0f") + " !" * cells[m.member, e].away for e in eights)]
        for m in card.members
    ]
    caption = "Milliseconds from the median of the others, early negative; ! where it is beyond chance."
    return [Figure("Members by eights", caption, "", Table(("member", *map(str, eights)), rows))]


def _sheets(card: GroupCard) -> list[Figure]:
    """A sheet for each member."""
    sheets = []
    for member in card.members:
        mine = [one for one in card.by_eight if one.member == member.member]
        if not mine:
            continue
        told = [f"{tell_left(one)}." for one in card.left if one.member == member.member]
        told.append(f"Observed by {OBSERVERS[member.observed_by].said}.")
        rows = [
            [str(one.eight), _ms(one.offset, "+z.0f") + " !" * one.away, _ms(one.spread, ".0f"), str(one.n)]
            for one in mine
        ]
        table = Table(("eight", "from the others, ms", "spread, ms", "moments"), rows)
        sheets.append(Figure(member.member, " ".join(told), "", table))
    return sheets


def _over_time(card: GroupCard) -> Figure:
    return Figure(
        "Eight by eight",
        "From the first member to the last on average; the dark part is the spread.",
        draw_over_time(card),
        Table(
            ("eight", "first to last, ms", "spread, ms", "together", "moments"),
            [
                [str(s.eight), _ms(s.width, ".0f"), _ms(s.sd, ".0f"), f"{s.resultant:.3f}", str(s.n)]
                for s in card.over_time
            ],
        ),
    )


def _small_print() -> list[str]:
    return [
        "Early is negative, late is positive.",
        "Together is the order parameter of the places in the cycle: whoever is always as late counts as together.",
        "A shared beat makes people alike: following is told only where a change answers another's lead.",
    ]


def _first(lines: list[str]) -> list[str]:
    return lines if len(lines) <= MOST_TOLD else [*lines[:MOST_TOLD], f"and {len(lines) - MOST_TOLD} more"]


def _ms(seconds: float, form: str) -> str:
    return "–" if math.isnan(seconds) else f"{1000 * seconds:{form}}"
