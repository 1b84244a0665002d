"""A group's card in words and as a page of text: who is early, who is late, where it falls apart."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING

from tempo_coach.languages import in_english, tr
from tempo_coach.pattern.drill.count_names import say_count
from tempo_coach.report.words.observers import say_observer
from tempo_coach.report.words.reasons import say_reason, say_reasons
from tempo_coach.score.group.pace import keeps_another_pace, pace_beside
from tempo_coach.signs import columns, cut, pad, wrap

if TYPE_CHECKING:
    from collections.abc import Sequence

    from tempo_coach.score.group.card import GroupCard, Left, Member, Sides
    from tempo_coach.score.group.together import Exchange

WIDTH = 80
#: Offsets below this many seconds are not told apart by eye or ear in a group (common practice: a fifth of a count).
SAME = 0.03
#: Characters of a name: with those of the widest row the line is full.
LONGEST_NAME = 18
#: Characters to either side of the group's middle, and the seconds that the end stands for.
SCALE, SCALE_END = 15, 0.15


def tell_group(card: GroupCard) -> str:
    """Return what a coach would tell the group first; a stretch of somebody's comes before the rest."""
    if not card.members:
        return tr(
            "Who was who cannot be told; {width:.0f} ms from the first to the last on average ({number} moments).",
            width=card.width * 1000,
            number=sum(t.n for t in card.over_time),
        )
    known = [m for m in card.members if not math.isnan(m.offset)]
    if not known:
        return tr("Nothing to tell: nobody did a moment of the plan.")
    told = [f"{_tell_canon(card)}."] if card.canon else []
    others = [m for m in known if keeps_another_pace(m, card.members)]
    if others:
        return " ".join([*told, *_tell_tempi(others, card, several=len(known) - len(others) > 1)])
    if card.left:
        first = max(card.left, key=_size)
        with_her = _left_with(first, card)
        told.append(_tell_with_others(first, with_her))
        besides = [one for one in card.left if one.member not in {first.member, *with_her}]
        if besides:
            second = max(besides, key=_size)
            told.append(f"{_with_back(tell_left(second), second, several=False)}.")
    elif card.wandered and card.reference != "nothing":
        told.append(f"{tell_wandered(card)}.")
    stayed = [m for m in known if m.member not in {one.member for one in card.left}]
    worst = max(stayed or known, key=lambda m: abs(m.sure))
    if card.sides is not None:
        told.append(f"{tell_sides(card.sides)}.")
    elif abs(worst.sure) > SAME:
        way = tr("behind") if worst.offset > 0 else tr("ahead of")
        told.append(
            tr(
                "{member} is {offset:.0f} ms {way} the group ({n} moments): listen to the others there.",
                member=worst.member,
                offset=abs(worst.offset) * 1000,
                way=way,
                n=worst.n,
            )
        )
    if len(told) > bool(card.canon):
        return " ".join(told)
    if card.apart:
        place = max(card.apart, key=lambda a: a.width)
        told.append(
            tr(
                "Together, but it falls apart in eight {eight} count {count}: {width:.0f} ms from the first to the "
                "last.",
                eight=place.eight,
                count=say_count(place.count - 1),
                width=place.width * 1000,
            )
        )
        return " ".join(told)
    bias = sum(m.bias for m in known) / len(known)
    if card.reference != "nothing" and abs(bias) > SAME:
        way = tr("behind") if bias > 0 else tr("ahead of")
        told.append(
            tr(
                "Together, and all of you {bias:.0f} ms {way} the {reference}.",
                bias=abs(bias) * 1000,
                way=way,
                reference=tr(card.reference),
            )
        )
    else:
        told.append(tr("Together: {width:.0f} ms from the first to the last on average.", width=card.width * 1000))
    return " ".join(told)


def head_group(card: GroupCard) -> str:
    """Return the sentence of :func:`tell_group` in two or three words; empty without anything to tell."""
    known = [m for m in card.members if not math.isnan(m.offset)]
    if not known:
        return ""
    if any(keeps_another_pace(m, card.members) for m in known):
        return tr("not one tempo")
    if card.left:
        first = max(card.left, key=_size)
        return f"{first.member} {_tell_way(first)}"
    if card.wandered and card.reference != "nothing":
        return tr("all late") if max(card.wandered, key=lambda one: abs(one.offset)).offset > 0 else tr("all early")
    worst = max(known, key=lambda m: abs(m.sure))
    if card.sides is not None:
        return tr("two sides")
    if abs(worst.sure) > SAME:
        return tr("{member} late" if worst.offset > 0 else "{member} early", member=worst.member)
    return tr("mostly together") if card.apart else tr("together")


def tell_left(one: Left, *, with_her: Sequence[str] = ()) -> str:
    """Return who left the group, where and how, without a full stop; those who left likewise are named too."""
    count, last = say_count(one.from_count - 1), say_count(one.to_count - 1)
    where = tr("eight {from_eight} counts {count} to {last}", from_eight=one.from_eight, count=count, last=last)
    if one.to_eight != one.from_eight:
        where = tr(
            "eight {from_eight} count {count} to eight {to_eight} count {last}",
            from_eight=one.from_eight,
            count=count,
            to_eight=one.to_eight,
            last=last,
        )
    if math.isnan(one.offset):
        how = tr("not there")
    elif one.uneven:
        how = tr("uneven, {spread:.0f} ms to either side", spread=one.spread * 1000)
    else:
        how = tr("{offset:.0f} ms {way}", offset=abs(one.offset) * 1000, way=_tell_way(one))
    who = (
        tr("{names} and {with_her}", names=", ".join([one.member, *with_her[:-1]]), with_her=with_her[-1])
        if with_her
        else one.member
    )
    return f"{who}, {where}, {how}"


def list_left(one: Left) -> str:
    """Return the same for a list of several, and whether she came back."""
    return tell_left(one) if one.back else tr("{left}, did not come back", left=tell_left(one))


def _left_with(first: Left, card: GroupCard) -> list[str]:
    """Return who left the group to the same side, in a stretch that mostly coincides with hers."""

    def span(one: Left) -> tuple[float, float]:
        return 8 * one.from_eight + one.from_count, 8 * one.to_eight + one.to_count + 1

    begin, end = span(first)
    found = []
    for one in card.left:
        start, stop = span(one)
        common = min(stop, end) - max(start, begin)
        if (
            one.member != first.member
            and _tell_way(one) == _tell_way(first)
            and common > 0.5 * max(stop - start, end - begin)
        ):
            found.append(one.member)
    return list(dict.fromkeys(found))


def _tell_way(one: Left) -> str:
    if math.isnan(one.offset):
        return tr("away")
    return tr("uneven") if one.uneven else tr("late") if one.offset > 0 else tr("early")


def _tell_with_others(one: Left, with_her: Sequence[str]) -> str:
    """Return who left, the state of the others meanwhile, and whether she, or all who left, came back."""
    said = tell_left(one, with_her=with_her)
    if not math.isnan(one.others):
        said = tr("{said}; the others are together within {others:.0f} ms", said=said, others=one.others * 1000)
    return f"{_with_back(said, one, several=bool(with_her))}."


def _with_back(said: str, one: Left, *, several: bool) -> str:
    if one.back:
        return said
    return tr("{said}, and they did not come back" if several else "{said}, and she did not come back", said=said)


def _tell_tempi(others: Sequence[Member], card: GroupCard, *, several: bool) -> list[str]:
    """Return who keeps a tempo of her own, and what is to be said of the rest."""
    told = [f"{_tell_pace(others, card)}."]
    left = [one for one in card.left if one.member not in {m.member for m in others}]
    if left:
        told.append(f"{tell_left(max(left, key=_size))}.")
    if several:
        told.append(tr("The others: {width:.0f} ms from the first to the last on average.", width=card.width * 1000))
    return told


def _tell_pace(others: Sequence[Member], card: GroupCard) -> str:
    """Return who keeps a tempo of her own, and so changes her lateness all the time."""
    parts = []
    for m in others:
        beside = pace_beside(m, card.members)
        parts.append(
            tr("{member} is {beside:.0f} % slower", member=m.member, beside=abs(100 * beside))
            if beside > 0
            else tr("{member} is {beside:.0f} % faster", member=m.member, beside=abs(100 * beside))
        )
    return tr("Not one tempo: {names} than the middle of the group; find one tempo first", names=", ".join(parts))


def tell_sides(sides: Sides) -> str:
    """Return who is together with whom, and the distance between both sides, without a full stop."""
    ahead, behind = (
        tr("{names} and {name}", names=", ".join(names[:-1]), name=names[-1]) for names in (sides.ahead, sides.behind)
    )
    return tr(
        "{ahead} are together, and {behind} together {gap:.0f} ms behind them",
        ahead=ahead,
        behind=behind,
        gap=1000 * sides.gap,
    )


def tell_wandered(card: GroupCard) -> str:
    """Return where all left the music together most, without a full stop."""
    most = max(card.wandered, key=lambda one: abs(one.offset))
    way = tr("behind") if most.offset > 0 else tr("ahead of")
    size = tr("{offset:.0f} ms {way}", offset=abs(most.offset) * 1000, way=way)
    return tr(
        "All of you together, eight {eight}, {size} where you are with the {reference} otherwise",
        eight=most.eight,
        size=size,
        reference=tr(card.reference),
    )


def _size(one: Left) -> float:
    return math.inf if math.isnan(one.offset) else one.spread if one.uneven else abs(one.offset)


def _tell_canon(card: GroupCard) -> str:
    parts = [
        (
            (
                tr("{member} {counts} counts behind", member=member, counts=abs(counts))
                if counts > 0
                else tr("{member} {counts} counts ahead of", member=member, counts=abs(counts))
            )
            if abs(counts) > 1
            else (
                tr("{member} {counts} count behind", member=member, counts=abs(counts))
                if counts > 0
                else tr("{member} {counts} count ahead of", member=member, counts=abs(counts))
            )
        )
        for member, counts in card.canon.items()
    ]
    return tr("A canon: {names} the others, and judged so", names=", ".join(parts))


@in_english
def group_to_dict(card: GroupCard) -> dict[str, object]:
    """Return the group's card as plain values, its reasons in words."""
    return {**card.to_dict(), "reasons": say_reasons(card.reasons)}


def format_group(card: GroupCard) -> str:
    """Return the group's card as text of at most 80 columns."""
    wide = min(max(columns(name) for name in (tr("member"), *(m.member for m in card.members))), LONGEST_NAME)
    lines = ["\n".join(wrap(tell_group(card), WIDTH))]
    if card.members:
        against = "" if card.reference == "nothing" else tr("to {reference}", reference=tr(card.reference))
        group, spread = tr("to group"), tr("spread")
        heads = f"{group}{against:>{max(18 - columns(group), columns(against) + 1)}}"
        scale = f"{pad(cut(tr('early'), SCALE), SCALE)}|{cut(tr('late'), SCALE):>{SCALE}}"
        joint = "  " if columns(heads) + columns(spread) <= 25 else " "
        lines += ["", cut(f"{pad(tr('member'), wide)}  {scale}  {heads}{joint}{spread}", WIDTH)]
    lines += [_row(member, wide) for member in card.members]
    if not math.isnan(card.resultant):
        said = tr(
            "together {resultant:.2f} of 1.00"
            if math.isnan(card.chance)
            else "together {resultant:.2f} of 1.00; {chance:.2f} would be chance for so many",
            resultant=card.resultant,
            chance=card.chance,
        )
        lines += ["", said]
        lines.append(
            tr(
                "first to last {width:.0f} ms, spread {sd:.0f} ms on average",
                width=card.width * 1000,
                sd=card.sd * 1000,
            )
        )
    lines += _tell_ways(_without_clocks(card))
    if card.left:
        lines += ["", tr("Who left the group:")]
        lines += [
            line
            for one in card.left
            for line in wrap(list_left(one), WIDTH, initial_indent="  ", subsequent_indent="    ")
        ]
    lines += _tell_by_eight(card)
    lines += _tell_over_time(card)
    if card.apart:
        lines += ["", tr("Fell apart:")]
        lines += [
            tr(
                "  eight {eight} count {count}: {width:.0f} ms from the first to the last",
                eight=a.eight,
                count=say_count(a.count - 1),
                width=a.width * 1000,
            )
            for a in card.apart[:12]
        ]
    followers = sorted((p for p in card.pairs if p.follows), key=lambda p: -p.gain)
    if followers:
        lines += ["", tr("Who follows whom:")]
        lines += [
            cut(
                tr(
                    "  {b} follows {a} ({gain:.0%} by the next cycle, between {low:.0%} and {high:.0%})",
                    b=p.b,
                    a=p.a,
                    gain=p.gain,
                    low=p.low,
                    high=p.high,
                ),
                WIDTH,
            )
            for p in followers[:12]
        ]
    lines += _tell_exchanges(card)
    for reason in card.reasons.values():
        lines += ["", *wrap(tr("Note: {reason}.", reason=say_reason(reason)), WIDTH, subsequent_indent="  ")]
    return "\n".join(lines)


def _tell_ways(card: GroupCard) -> list[str]:
    """Return how each was observed, unless all by tables of times, and the noise that it adds."""
    if all(m.observed_by == "file" for m in card.members):
        return []
    lines = ["", tr("Observed by:")]
    for member in card.members:
        said = tr("{name}: {said}", name=member.member, said=say_observer(member.observed_by))
        if not math.isnan(member.noise):
            said = tr("{said}; this way adds {noise:.1f} ms", said=said, noise=1000 * member.noise)
        lines.append(cut(f"  {said}", WIDTH))
    unsure = max(1000 * m.unsure for m in card.members)
    if unsure and "unsure" not in card.reasons:
        of_films = any(m.observed_by == "film" for m in card.members)
        told = (
            tr(
                "What sensors do not show may make up to {unsure:.0f} ms: nobody is called early or late within that.",
                unsure=unsure,
            )
            if card.without_zero
            else tr(
                "Distances from the loudspeaker, a film's picture and its sound may make up to {unsure:.0f} ms: nobody "
                "is called early or late within that."
                if of_films
                else "Distances from the loudspeaker may make up to {unsure:.0f} ms: nobody is called early or late "
                "within that.",
                unsure=unsure,
            )
        )
        lines += wrap(told, WIDTH)
    return lines


def _tell_by_eight(card: GroupCard) -> list[str]:
    """Return members by eights: ms from the median of the others, marked where significant."""
    eights = sorted({one.eight for one in card.by_eight})
    if len(eights) < 2 or not card.members:
        return []
    cells = {(one.member, one.eight): one for one in card.by_eight}
    lines = ["", tr("Members by eights, ms from the others (! beyond chance):")]
    wide, per_block = LONGEST_NAME, (WIDTH - LONGEST_NAME - 2) // 6
    for first in range(0, len(eights), per_block):
        block = eights[first : first + per_block]
        lines.append(f"  {pad(tr('eight'), wide)}" + "".join(f"{eight:>6}" for eight in block))
        for member in card.members:
            row = [cells[member.member, eight] for eight in block]
            told = ["" if math.isnan(one.offset) else f"{1000 * one.offset:+z.0f}{'!' * one.away}" for one in row]
            lines.append((f"  {pad(cut(member.member, wide), wide)}" + "".join(f"{each:>6}" for each in told)).rstrip())
    return lines


def _tell_over_time(card: GroupCard) -> list[str]:
    if len(card.over_time) < 2:
        return []
    most = max(stretch.width for stretch in card.over_time)
    lines = ["", tr("Eight by eight, from the first to the last:")]
    for stretch in card.over_time:
        bar = "▪" * round(40 * stretch.width / most) if most > 0 else ""
        lines.append(
            tr(
                "  eight {eight:>3}  {width:>4.0f} ms  {bar}", eight=stretch.eight, width=stretch.width * 1000, bar=bar
            ).rstrip()
        )
    return lines


def _tell_exchanges(card: GroupCard) -> list[str]:
    told = [cut(f"  {line}", WIDTH) for one in card.exchanges for line in tell_exchange(one)]
    return ["", tr("Exchanges:"), *told] if told else []


def tell_exchange(one: Exchange) -> list[str]:
    """Return an exchange in words: release and catch, and a line for each throw from hand to hand."""
    released = _together(tr("released"), one.released, one.released_width)
    caught = _together(tr("caught"), one.caught, one.caught_width)
    lines = [
        tr(
            "eight {eight} count {count}: {released}; {caught}",
            eight=one.eight,
            count=say_count(one.count - 1),
            released=released,
            caught=caught,
        )
    ]
    for throw in one.throws:
        if math.isnan(throw.flight):
            told = tr("not seen")
        else:
            off = (throw.flight - throw.asked) * 1000
            way = (
                (
                    tr("{off:.0f} ms longer than asked", off=abs(off))
                    if off > 0
                    else tr("{off:.0f} ms shorter than asked", off=abs(off))
                )
                if round(off)
                else tr("as asked")
            )
            told = tr("{flight:.2f} s from hand to hand, {way}", flight=throw.flight, way=way)
        lines.append(tr("  {thrower} to {catcher}: {told}", thrower=throw.thrower, catcher=throw.catcher, told=told))
    return lines


def _together(what: str, off: float, width: float) -> str:
    if math.isnan(off):
        return tr("{what}: not seen", what=what)
    return tr(
        "{what} ({off:+.0f} ms)" if math.isnan(width) else "{what} within {width:.0f} ms ({off:+.0f} ms)",
        what=what,
        width=width * 1000,
        off=off * 1000,
    )


def _row(member: Member, wide: int) -> str:
    marks = ["."] * (2 * SCALE + 1)
    marks[SCALE] = "|"
    if not math.isnan(member.offset):
        place = round(member.offset / SCALE_END * SCALE)
        marks[max(-SCALE, min(place, SCALE)) + SCALE] = "<" if place < -SCALE else ">" if place > SCALE else "o"
    name = cut(member.member, wide)
    return (
        f"{pad(name, wide)}  {''.join(marks)}  {_signed(member.offset)}  {_signed(member.bias)}  {_ms(member.spread)}"
    )


def _signed(seconds: float) -> str:
    return f"{'' if math.isnan(seconds) else tr('{seconds:+z.0f} ms', seconds=seconds * 1000):>8}"


def _ms(seconds: float) -> str:
    return "" if math.isnan(seconds) else tr("{seconds:.0f} ms", seconds=seconds * 1000)


def _without_clocks(card: GroupCard) -> GroupCard:
    """Return a card on which uncertainty of clocks, told by a note, does not count as anybody's distance."""
    if "clocks" not in card.reasons:
        return card
    return replace(card, members=tuple(m._replace(unsure=0.0) for m in card.members))
