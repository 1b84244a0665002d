"""The report of a group as one HTML page: who is early, who is late, where it falls apart, who follows whom."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from tempo_coach.languages import tr, tr_n
from tempo_coach.pattern.drill.count_names import say_count
from tempo_coach.report.pages.page import Figure, Table, render
from tempo_coach.report.pages.plot import BOTTOM, LEFT, TOP, WIDTH, make_picture, names_width, room, signed, ticks
from tempo_coach.report.pages.take import CAUTION
from tempo_coach.report.words.amounts import say_decimal
from tempo_coach.report.words.group import tell_exchange
from tempo_coach.report.words.group_sentence import list_left, tell_group
from tempo_coach.report.words.observers import say_observer
from tempo_coach.report.words.reasons import say_reason
from tempo_coach.score.group.pace import keeps_another_pace
from tempo_coach.signs import cut

if TYPE_CHECKING:
    from tempo_coach.score.group.card import GroupCard

#: The column of what the members are held against beside each other.
_AGAINST = {"music": "to the music, ms", "cues": "to the cues, ms", "nothing": "to music, ms"}
#: Moments that fell apart, and pairs, that are told one by one.
MOST_TOLD = 24
#: Eights in one block of a picture, and the height of its cells.
BLOCK, CELL = 10, 26
#: Opacity of a cell by least seconds.
SHADES = ((0.12, 0.6), (0.06, 0.42), (0.03, 0.26), (0.015, 0.12))


def group_page(card: GroupCard, *, title: str = "A group") -> str:
    """Return the report of a group."""
    followers = sorted((p for p in card.pairs if p.follows), key=lambda p: -p.gain)
    following = [
        tr(
            "{b} follows {a}: {gain:.0%} of the lead by the next cycle, between {low:.0%} and {high:.0%}",
            b=p.b,
            a=p.a,
            gain=p.gain,
            low=p.low,
            high=p.high,
        )
        for p in followers
    ]
    apart = [
        tr(
            "eight {eight} count {count}: {width:.0f} ms from the first to the last",
            eight=a.eight,
            count=say_count(a.count - 1),
            width=1000 * a.width,
        )
        for a in card.apart
    ]
    number = (
        tr_n("{number} member", "{number} members", len(card.members))
        if card.members
        else tr("one recording of several people")
    )
    return render(
        "group.html",
        title=title,
        about=[number],
        sentence=tell_group(card),
        numbers=_numbers(card),
        figures=[_members(card), _over_time(card), *_by_eights(card)],
        sheets=_sheets(card),
        left=[list_left(one) for one in card.left],
        apart=_first(apart),
        following=_first(following),
        exchanges=[line for exchange in card.exchanges for line in tell_exchange(exchange)],
        small_print=[*_small_print(), *(_sentence(say_reason(reason)) for reason in card.reasons.values()), CAUTION],
    )


def draw_members(card: GroupCard) -> str:
    """Return each member's lead and lag as SVG: against the group, with her spread, and against the music."""
    known = [m for m in card.members if not math.isnan(m.offset)]
    if len(known) < 2:
        return ""
    names = [cut(m.member, 20) for m in known]
    left = min(max(names_width(names, 8.0) + 14, LEFT), 200.0)
    ends = [1000 * (m.offset + share * m.spread) for m in known for share in (-1, 0, 1) if not math.isnan(m.spread)]
    ends += [1000 * value for m in known for value in (m.offset, m.bias) if not math.isnan(value)]
    picture = make_picture(
        tr("Each member against the group"),
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
    """Return the width of the group in each eight as SVG bars."""
    if not card.over_time:
        return ""
    high = 1000 * max(stretch.width for stretch in card.over_time) * 1.12 or 1.0
    numbers_of = [stretch.eight for stretch in card.over_time]
    picture = make_picture(
        tr("From the first to the last, by eight"), (min(numbers_of) - 0.5, max(numbers_of) + 0.5), (0, high)
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
    chance = "" if math.isnan(card.chance) else tr("{chance:.2f} would be chance", chance=card.chance)
    return [
        (tr("together"), tr("{resultant:.2f} of 1", resultant=card.resultant), chance),
        (tr("first to last"), tr("{width:.0f} ms", width=1000 * card.width), tr("mean over the moments")),
        (tr("spread"), tr("{sd:.0f} ms", sd=1000 * card.sd), tr("mean over the moments")),
        (tr("moments apart"), str(len(card.apart)), tr("of {number}", number=sum(s.n for s in card.over_time))),
    ]


def _members(card: GroupCard) -> Figure:
    return Figure(
        tr("Each member"),
        tr(
            "The mark is where she is against the group, the bar her spread."
            if card.reference == "nothing"
            else "The mark is where she is against the group, the bar her spread; the hollow square is against the "
            "{reference}.",
            reference=tr(card.reference),
        ),
        draw_members(card),
        Table(
            ("member", tr("to the group, ms"), tr(_AGAINST[card.reference]), tr("spread, ms"), "n"),
            [
                [m.member, _ms(m.offset, "+z.0f"), _ms(m.bias, "+z.0f"), _ms(m.spread, ".0f"), str(m.n)]
                for m in card.members
            ],
        ),
    )


def _by_eights(card: GroupCard) -> list[Figure]:
    """Return members by eights; none where members cannot be told apart."""
    eights = sorted({one.eight for one in card.by_eight})
    if not eights:
        return []
    cells = {(one.member, one.eight): one for one in card.by_eight}
    rows = [
        [m.member, *(_ms(cells[m.member, e].offset, "+z.0f") + " !" * cells[m.member, e].away for e in eights)]
        for m in card.members
    ]
    caption = tr(
        "Milliseconds from the median of the others, early negative, late positive; the darker, the further off, "
        "and framed where it is beyond chance."
    )
    return [Figure(tr("Members by eights"), caption, draw_by_eights(card), Table(("member", *map(str, eights)), rows))]


def draw_by_eights(card: GroupCard) -> str:
    """Return members as rows and eights as columns as SVG, in as many blocks as needed."""
    eights = sorted({one.eight for one in card.by_eight})
    if not eights or not card.members:
        return ""
    cells = {(one.member, one.eight): one for one in card.by_eight}
    blocks = [eights[first : first + BLOCK] for first in range(0, len(eights), BLOCK)]
    names = [cut(m.member, 12) for m in card.members]
    left = max(names_width(names, 8.5) + 12, LEFT)
    wide, tall = (WIDTH - left) / min(BLOCK, len(eights)), (len(names) + 1) * CELL + 8
    picture = make_picture(
        tr("Members by eights: ms from the others"), (0.0, 1.0), (0.0, 1.0), height=len(blocks) * tall, left=left
    )
    for number, block in enumerate(blocks):
        top = number * tall
        picture.text(left - 8, top + 17, tr("eight"), anchor="end", css="name")
        for row, name in enumerate(names, 1):
            picture.text(left - 8, top + row * CELL + 17, name, anchor="end", css="strong")
        for column, eight in enumerate(block):
            x = left + column * wide
            picture.text(x + wide / 2, top + 17, str(eight), anchor="middle", css="name")
            for row, member in enumerate(card.members, 1):
                one, y = cells[member.member, eight], top + row * CELL
                if math.isnan(one.offset):
                    continue
                shade = next((share for least, share in SHADES if abs(one.offset) >= least), 0.0)
                edges = (x + 1, y + 1, x + wide - 1, y + CELL - 1)
                if shade:
                    picture.box(*edges, "bar", fill_opacity=shade)
                if one.away:
                    picture.box(*edges, "asked")
                picture.text(x + wide / 2, y + 17, f"{1000 * one.offset:+z.0f}", anchor="middle", css="name")
    return picture.svg()


def draw_member(card: GroupCard, member: str) -> str:
    """Return one member's distance from the others by eight as SVG; empty without any."""
    mine = [one for one in card.by_eight if one.member == member and not math.isnan(one.offset)]
    if not mine:
        return ""
    ends = [
        1000 * (one.offset + share * (0 if math.isnan(one.spread) else one.spread)) for one in mine for share in (-1, 1)
    ]
    picture = make_picture(
        tr("{member}: ms from the others, by eight", member=member),
        (min(one.eight for one in mine) - 0.5, max(one.eight for one in mine) + 0.5),
        room(ends, least=80, around=0.0),
    )
    picture.grid_y(signed, name="ms from the others: late above, early below")
    for one in mine:
        x = [picture.x(one.eight + side) for side in (-0.3, 0.3)]
        low, high = sorted((picture.y(0.0), picture.y(1000 * one.offset)))
        picture.box(x[0], low, x[1], high, "bar")
        if not math.isnan(one.spread):
            edges = [picture.y(1000 * (one.offset + side * one.spread)) for side in (1, -1)]
            picture.box(picture.x(one.eight) - 2, edges[0], picture.x(one.eight) + 2, edges[1], "asked")
        if one.away:
            picture.text(picture.x(one.eight + 0.34), high if one.offset < 0 else low + 12, "!", css="strong")
    picture.grid_x([(one.eight, str(one.eight)) for one in mine], name="eight")
    return picture.svg()


def _sheets(card: GroupCard) -> list[Figure]:
    """Return a sheet for each member."""
    sheets = []
    for member in card.members:
        mine = [one for one in card.by_eight if one.member == member.member]
        if not mine:
            continue
        told = [f"{list_left(one)}." for one in card.left if one.member == member.member]
        if not told and "left" not in card.reasons and not keeps_another_pace(member, card.members):
            told.append(tr("With the others from the first eight to the last."))
        if not math.isnan(member.offset):
            told.append(
                tr(
                    "On average {offset:.0f} ms behind the group."
                    if member.offset > 0
                    else "On average {offset:.0f} ms ahead of the group.",
                    offset=abs(1000 * member.offset),
                )
            )
        told.append(tr("Observed by {said}.", said=say_observer(member.observed_by)))
        rows = [
            [str(one.eight), _ms(one.offset, "+z.0f") + " !" * one.away, _ms(one.spread, ".0f"), str(one.n)]
            for one in mine
        ]
        table = Table(("eight", tr("from the others, ms"), tr("spread, ms"), "moments"), rows)
        sheets.append(Figure(member.member, " ".join(told), draw_member(card, member.member), table))
    return sheets


def _over_time(card: GroupCard) -> Figure:
    return Figure(
        tr("Eight by eight"),
        tr("From the first member to the last on average; the dark part is the spread."),
        draw_over_time(card),
        Table(
            ("eight", tr("first to last, ms"), tr("spread, ms"), "together", "moments"),
            [
                [str(s.eight), _ms(s.width, ".0f"), _ms(s.sd, ".0f"), say_decimal(s.resultant, ".3f"), str(s.n)]
                for s in card.over_time
            ],
        ),
    )


def _small_print() -> list[str]:
    return [
        tr("Early is negative, late is positive."),
        tr("Together is the order parameter of the places in the cycle: whoever is always as late counts as together."),
        tr("A shared beat makes people alike: following is told only where a change answers another's lead."),
    ]


def _sentence(words: str) -> str:
    return f"{words[:1].upper()}{words[1:]}."


def _first(lines: list[str]) -> list[str]:
    return (
        lines
        if len(lines) <= MOST_TOLD
        else [*lines[:MOST_TOLD], tr("and {number} more", number=len(lines) - MOST_TOLD)]
    )


def _ms(seconds: float, form: str) -> str:
    return "–" if math.isnan(seconds) else f"{1000 * seconds:{form}}"
