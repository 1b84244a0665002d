"""A group's card in words and as a page of text: who is early, who is late, where it falls apart."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING

from tempo_coach.languages import in_english, tr
from tempo_coach.pattern.drill.count_names import say_count
from tempo_coach.report.words.group_sentence import list_left, tell_group
from tempo_coach.report.words.observers import say_observer
from tempo_coach.report.words.reasons import say_reason, say_reasons
from tempo_coach.signs import columns, cut, pad, wrap

if TYPE_CHECKING:
    from tempo_coach.score.group.card import GroupCard, Member
    from tempo_coach.score.group.together import Exchange

WIDTH = 80
#: Characters of a name: with those of the widest row the line is full.
LONGEST_NAME = 18
#: Characters to either side of the group's middle, and the seconds that the end stands for.
SCALE, SCALE_END = 15, 0.15


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
        # names give way to the heads of the columns, which are told nowhere else
        room = WIDTH - 2 * SCALE - 5 - columns(heads) - columns(joint) - columns(spread)
        wide = min(wide, max(room, columns(tr("member"))))
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
        for p in followers[:12]:
            said = tr(
                "  {b} follows {a} ({gain:.0%} by the next cycle, between {low:.0%} and {high:.0%})",
                b=p.b,
                a=p.a,
                gain=p.gain,
                low=p.low,
                high=p.high,
            )
            lines += _wrap_row(said)
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
        lines += _wrap_row(f"  {said}")
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
    told = [row for one in card.exchanges for line in tell_exchange(one) for row in _wrap_row(f"  {line}")]
    return ["", tr("Exchanges:"), *told] if told else []


def _wrap_row(said: str) -> list[str]:
    """Return an indented row as lines, what follows two columns further in."""
    words = said.lstrip()
    indent = " " * (len(said) - len(words))
    return wrap(words, WIDTH, initial_indent=indent, subsequent_indent=f"{indent}  ")


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
