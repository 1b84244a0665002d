"""The pictures of a take: its periods, places on the cycle, how early or late along the music, hand against hand."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from tempo_coach.languages import tr
from tempo_coach.pattern.drill.count_names import say_count
from tempo_coach.report.drawings import svg
from tempo_coach.report.drawings.svg import path, tag
from tempo_coach.report.pages.plot import (
    BOTTOM,
    LEFT,
    TOP,
    make_picture,
    names_width,
    room,
    shape,
    signed,
    ticks,
    whole_ticks,
)
from tempo_coach.report.words.moments import FLAG_WORDS, HANDS, say_label
from tempo_coach.report.words.places import begins_of, first_second
from tempo_coach.score.measures.parts import WITH_CUES, WITHOUT_CUES, name_blocks
from tempo_coach.signs import cut

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from tempo_coach.report.pages.plot import Plot
    from tempo_coach.score.measures.parts import Part
    from tempo_coach.score.scorecard import CycleCard, Flag, Scorecard

#: Marks that are drawn of a long take, evenly chosen; flagged ones are always there.
MOST_MARKS = 1200
#: Parts that are drawn, for example the eights of a long take.
MOST_PARTS = 40
#: The axis of a take of which only that is known.
FROM_THE_FIRST = "seconds from the first onset"
#: What the picture of a take in parts shows.
EARLY_BY = {
    "circle": "How early or late, by circle",
    "hand": "How early or late, by hand",
    "count": "How early or late, by count",
    "eight": "How early or late, by eight",
    "cues": "How early or late, by cues",
}
#: Stretches of a take by their cues.
BLOCKS = {"with cues": "with cues", "thinned cues": "thinned cues", "without cues": "without cues"}
#: Size of the dial on which the places of a cycle are shown.
DIAL = 340.0


def draw_periods(card: Scorecard) -> str:
    """Return the length of each cycle over the asked one as SVG, with the tolerance as a band."""
    rows = [cycle for cycle in card.cycles if not math.isnan(cycle.ratio)]
    if not rows:
        return ""
    allowance, place = 100 * card.plan.allowance, _place_of_cycles(card)
    last = max(cycle.cycle for cycle in rows)
    step = (place(last) - place(0)) / last if last else 1.0
    off = [100 * (cycle.ratio - 1) for cycle in rows]
    picture = make_picture(
        tr("Length of each cycle against what was asked"),
        (place(0) - step / 2, place(last) + step / 2),
        room([*off, allowance, -allowance], least=12, around=0.0),
    )
    picture.band(-allowance, allowance, "good")
    picture.grid_y(signed, name=tr("% longer or shorter than asked"))
    for number, hand in enumerate(card.plan.hands):
        mine = [(cycle.cycle, 100 * (cycle.ratio - 1)) for cycle in rows if cycle.hand == hand]
        for run in _runs(mine):
            picture.line([(place(int(at)), value) for at, value in run], f"l{number % 3}")
    for at, _, flag in _jumps(card):
        picture.upright(place(at), tr(FLAG_WORDS[flag.kind]))
    shown = _chosen(rows)
    for cycle in shown:
        broken = any(flag.kind in ("long", "short") for flag in cycle.flags)
        picture.mark(place(cycle.cycle), 100 * (cycle.ratio - 1), _order(card, cycle.hand), ringed=broken)
    if card.placed:
        picture.grid_x([(k, str(k)) for k in whole_ticks(1, last + 1)], name="cycle")
    else:
        picture.grid_x([(s, f"{s:g}") for s in ticks(picture.x.low, picture.x.high, 8) if s >= 0], name=FROM_THE_FIRST)
    return picture.svg()


def draw_asynchrony(card: Scorecard) -> str:
    """Return the asynchrony of each moment along the music as SVG; missed ones lie on the lower edge."""
    moments, plan = card.plan.moments, card.plan
    if not len(moments):
        return ""
    off = 1000 * card.asynchrony
    known = np.flatnonzero(~np.isnan(off))
    begin, end = plan.eights[0].start, plan.eights[-1].start + plan.eights[-1].length
    places, name = moments.count, tr("How early or late each moment was along the music")
    if not card.placed:
        places, name = (
            moments.time - first_second(card),
            tr("How early or late each moment was from the first onset on"),
        )
        begin, end = float(places.min()), float(places.max())
    low, high = room(off[known].tolist(), least=80, around=0.0)
    picture = make_picture(name, (begin, end), (low, high), height=280)
    if card.placed:
        _shade_cues(picture, card)
    picture.grid_y(signed, name=tr("ms: late above, early below"))
    orders = {hand: k for k, hand in enumerate(plan.hands)}
    flagged = {
        (cycle.cycle, cycle.hand, flag.label)
        for cycle in card.flagged
        for flag in cycle.flags
        if flag.kind in ("early", "late")
    }
    for _, k, flag in _jumps(card):
        picture.upright(float(places[k]), tr(FLAG_WORDS[flag.kind]))
    step = max(1, math.ceil(len(known) / MOST_MARKS))
    for rank, k in enumerate(known.tolist()):
        hand, label = moments.hand[k], moments.label[k]
        ringed = (int(moments.cycle[k]), hand, label) in flagged
        if ringed or rank % step == 0:
            picture.mark(float(places[k]), float(off[k]), orders[hand], ringed=ringed)
    for k in card.missed[: MOST_MARKS if card.missing_known else 0].tolist():
        x, y = picture.x(float(places[k])), picture.y.start - 6
        cross = f"M{x - 4:.1f},{y - 4:.1f}l8,8m0,-8l-8,8"
        picture.parts.append(tag("path", tag("title", tr("missed")), css="cross", d=cross))
    bias = card.value("bias_ms")
    if not math.isnan(bias):
        picture.line([(begin, bias), (end, bias)], "mean")
    if not card.placed:
        picture.grid_x([(s, f"{s:g}") for s in ticks(begin, end, 8) if s >= 0], name=FROM_THE_FIRST)
        return picture.svg()
    picture.grid_x([(eight.start, str(eight.number)) for eight in plan.eights], name=tr("eight of the music"))
    for eight in plan.eights:
        picture.rise(picture.x(eight.start), "tick", end=picture.y.start + 4)
    return picture.svg()


def _place_of_cycles(card: Scorecard) -> Callable[[int], float]:
    """Return the position of each cycle: its number, or unknown, its seconds from the first onset."""
    if card.placed:
        return lambda cycle: cycle + 1.0
    first, begins = first_second(card), begins_of(card)
    return lambda cycle: begins[cycle] - first


def _jumps(card: Scorecard) -> list[tuple[int, int, Flag]]:
    """Return hesitations and slips: the cycle, the moment's index in the plan, and the flag."""
    moments, found = card.plan.moments, []
    for row in card.flagged:
        for flag in row.flags:
            if flag.kind in ("hesitated", "slipped"):
                mine = np.flatnonzero(moments.cycle == row.cycle).tolist()
                at = next(k for k in mine if (moments.hand[k], moments.label[k]) == (row.hand, flag.label))
                found.append((row.cycle, at, flag))
    return found


def draw_places(card: Scorecard) -> str:
    """Return the phases of the moments as SVG: a dial with the cycle's first count at the top."""
    rows = find_places(card)
    if not rows:
        return ""
    plan, middle, radius = card.plan, DIAL / 2, 0.4 * DIAL
    parts = [tag("circle", css="dial", cx=middle, cy=middle, r=radius)]
    for count in range(math.ceil(plan.cycle_counts)):
        x, y = _round(count / plan.cycle_counts, middle, 1.13 * radius)
        a, b = (
            _round(count / plan.cycle_counts, middle, radius - 5),
            _round(count / plan.cycle_counts, middle, radius + 5),
        )
        parts.append(tag("line", css="tick", x1=a[0], y1=a[1], x2=b[0], y2=b[1]))
        if plan.cycle_counts <= 16:
            parts.append(tag("text", say_count(count), x=x, y=y + 5, text_anchor="middle"))
    hands = list(plan.hands)
    for row in rows:
        number = hands.index(row.hand)
        ring = radius * (1 - 0.22 * number) if len(hands) > 1 else radius
        x, y = _round(row.asked, middle, ring)
        parts.append(tag("rect", css="asked", x=x - 7, y=y - 7, width=14, height=14))
        if not math.isnan(row.place):
            arc = [_round(row.place + row.sd * share, middle, ring) for share in np.linspace(-1, 1, 13)]
            parts.append(tag("polyline", css=f"l{number % 3} arc", points=path(arc)))
            parts.append(shape(*_round(row.place, middle, ring), number))
    for number in range(1, len(hands)):
        parts.insert(0, tag("circle", css="dial", digits=2, cx=middle, cy=middle, r=radius * (1 - 0.22 * number)))
    return svg.picture(tr("Where the moments fall on the cycle"), DIAL, DIAL, parts, css="dial-picture")


class MomentPhase:
    """Phase of a moment in the cycle: asked and done, 0 to 1, its SD, and the number of times it was done."""

    def __init__(self, hand: str, label: str, asked: float, offs: Sequence[float]) -> None:
        known = [off for off in offs if not math.isnan(off)]
        self.hand, self.label, self.asked, self.n = hand, label, asked, len(known)
        self.place = asked + float(np.mean(known)) if known else math.nan
        self.sd = float(np.std(known, ddof=1)) if len(known) > 1 else 0.0


def find_places(card: Scorecard) -> list[MomentPhase]:
    """Return the phase of each moment of each hand."""
    found: dict[tuple[str, str], tuple[float, list[float]]] = {}
    periods = [cycle.period / cycle.ratio for cycle in card.cycles if cycle.ratio > 0]
    period = float(np.median(periods)) if periods else math.nan
    for cycle in card.cycles:
        first = card.plan.cycle_starts[cycle.cycle]
        asked = cycle.period / cycle.ratio if cycle.ratio > 0 else period
        for label, position, off in zip(cycle.labels, cycle.positions, cycle.asynchronies, strict=True):
            share = ((position - first) / card.plan.cycle_counts) % 1.0
            found.setdefault((cycle.hand, label), (share, []))[1].append(off / asked if asked > 0 else math.nan)
    return [MomentPhase(hand, label, share, offs) for (hand, label), (share, offs) in found.items()]


def draw_hands(card: Scorecard) -> str:
    """Return one hand against the other as SVG: the lateness of each by cycle; empty with one hand."""
    pairs = find_pairs(card)
    if len(pairs) < 2:
        return ""
    one, other = map(tr, card.plan.hands[:2])
    low, high = room([value for pair in pairs for value in pair[1:]], least=60, around=0.0)
    picture = make_picture(
        tr("{one} against {other}, cycle by cycle", one=one, other=other), (low, high), (low, high), height=330
    )
    picture.grid_y(signed, name=tr("ms of the {other}: late above", other=other))
    picture.rise(picture.x(0), "zero")
    picture.line([(low, low), (high, high)], "diagonal")
    step = max(1, math.ceil(len(pairs) / MOST_MARKS))
    for _, a, b in pairs[::step]:
        picture.mark(a, b, 0)

    picture.grid_x(
        [(value, signed(value)) for value in ticks(low, high, 5)],
        name=tr("ms of the {one}: late to the right", one=one),
    )
    return picture.svg()


def find_pairs(card: Scorecard) -> list[tuple[int, float, float]]:
    """Return cycle and mean asynchrony of both hands in ms, where both were observed."""
    if len(card.plan.hands) < 2:
        return []
    of: dict[str, dict[int, float]] = {}
    for cycle in card.cycles:
        known = [1000 * off for off in cycle.asynchronies if not math.isnan(off)]
        if known:
            of.setdefault(cycle.hand, {})[cycle.cycle] = sum(known) / len(known)
    one, other = (of.get(hand, {}) for hand in card.plan.hands[:2])
    return [(cycle, one[cycle], other[cycle]) for cycle in sorted(one) if cycle in other]


def _shade_cues(picture: Plot, card: Scorecard) -> None:
    """Shade where cues were thinned and where there were none, unless the whole take is alike."""
    blocks = name_blocks(card.plan.moments)
    if len(set(blocks.values())) < 2:
        return
    moments = card.plan.moments
    ordered, row = np.unique(moments.cycle, return_inverse=True)
    starts = np.full(len(ordered), np.inf)
    np.minimum.at(starts, row, moments.count)
    edges = [*starts.tolist(), picture.x.high]
    for cycle, start, end in zip(ordered.tolist(), edges, edges[1:], strict=False):
        if blocks[cycle] != WITH_CUES:
            picture.stretch(start, end, "silent" if blocks[cycle] == WITHOUT_CUES else "thinned")


def _chosen(rows: Sequence[CycleCard]) -> list[CycleCard]:
    step = max(1, math.ceil(len(rows) / MOST_MARKS))
    return [cycle for k, cycle in enumerate(rows) if cycle.flags or k % step == 0]


def _order(card: Scorecard, hand: str) -> int:
    return card.plan.hands.index(hand)


def _runs(points: Sequence[tuple[int, float]]) -> list[list[tuple[float, float]]]:
    """Return runs of neighbouring cycles as separate lines: nothing is drawn across a gap."""
    runs: list[list[tuple[float, float]]] = []
    for cycle, value in points:
        if runs and runs[-1][-1][0] == cycle - 1:
            runs[-1].append((cycle, value))
        else:
            runs.append([(cycle, value)])
    return [run for run in runs if len(run) > 1]


def _round(part: float, middle: float, radius: float) -> tuple[float, float]:
    """A place of the cycle on the dial: its first count at the top, on as a clock goes."""
    angle = 2 * math.pi * part
    return middle + radius * math.sin(angle), middle - radius * math.cos(angle)


def say_part(part: Part, by: str) -> str:
    """Return the name of a part of a take."""
    if by == "circle":
        hand, _, label = part.name.partition(" ")
        return f"{tr(hand)} {say_label(label)}" if label and hand in HANDS else say_label(part.name)
    return tr(BLOCKS.get(part.name, part.name))


def draw_parts(parts: Sequence[Part], by: str) -> str:
    """Return bias and spread of the parts of a take as SVG, one row a part."""
    known = [part for part in parts if part.n][:MOST_PARTS]
    if len(known) < 2:
        return ""
    names = [cut(say_part(part, by), 22) for part in known]
    left = min(max(names_width(names, 7.6) + 14, LEFT), 190.0)
    ends = [
        1000 * value
        for part in known
        for value in (part.bias, part.bias - part.spread, part.bias + part.spread)
        if not math.isnan(value)
    ]
    row = 26.0
    picture = make_picture(
        tr(EARLY_BY[by]),
        room(ends, least=60, around=0.0),
        (0.0, float(len(known))),
        height=row * len(known) + TOP + 8 + BOTTOM,
        left=left,
    )
    picture.lines_up()
    for number, (part, name) in enumerate(zip(known, names, strict=True)):
        height = len(known) - number - 0.5
        picture.text(left - 8, picture.y(height) + 5, name, anchor="end")
        if not math.isnan(part.spread):
            picture.bar_across(1000 * (part.bias - part.spread), 1000 * (part.bias + part.spread), height)
        if not math.isnan(part.low):
            low, high = (min(max(1000 * v, picture.x.low), picture.x.high) for v in (part.low, part.high))
            picture.line([(low, height), (high, height)], "fit")
        picture.mark(1000 * part.bias, height, 0)
    picture.grid_x(
        [(value, signed(value)) for value in ticks(picture.x.low, picture.x.high, 5)],
        name="ms: early left, late right",
    )
    return picture.svg()
