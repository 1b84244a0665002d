"""A group's card in words and as a page of text: who is early, who is late, where it falls apart."""

from __future__ import annotations

import math
import textwrap
from typing import TYPE_CHECKING

from tempo_coach.pattern.counts import say_count

if TYPE_CHECKING:
    from tempo_coach.score.group import GroupCard, Member

WIDTH = 80
#: Offsets below this many seconds are not told apart by eye or ear in a group (common practice: a fifth of a count).
SAME = 0.03
#: Characters to either side of the group's middle, and the seconds that the end stands for.
SCALE, SCALE_END = 15, 0.15


def tell_group(card: GroupCard) -> str:
    """Return the one thing that a coach would say to the group."""
    known = [m for m in card.members if not math.isnan(m.offset)]
    if not known:
        return "Nothing to tell: nobody did a moment of the plan."
    worst = max(known, key=lambda m: abs(m.offset))
    if abs(worst.offset) > SAME:
        way = "behind" if worst.offset > 0 else "ahead of"
        return (
            f"{worst.member} is {abs(worst.offset) * 1000:.0f} ms {way} the group "
            f"({worst.n} moments): listen to the others there."
        )
    if card.apart:
        place = max(card.apart, key=lambda a: a.width)
        return (
            f"Together, but it falls apart in eight {place.eight} count {say_count(place.count - 1)}: "
            f"{place.width * 1000:.0f} ms from the first to the last."
        )
    bias = sum(m.bias for m in known) / len(known)
    if abs(bias) > SAME:
        way = "behind" if bias > 0 else "ahead of"
        return f"Together, and all of you {abs(bias) * 1000:.0f} ms {way} the music."
    return f"Together: {card.width * 1000:.0f} ms from the first to the last on average."


def format_group(card: GroupCard) -> str:
    """Return the group's card as text of at most 80 columns."""
    wide = min(max(len(m.member) for m in card.members), 20)
    lines = ["\n".join(textwrap.wrap(tell_group(card), WIDTH)), ""]
    lines.append(f"{'member':<{wide}}  {'early':<{SCALE}}|{'late':>{SCALE}}  to group  to music  spread")
    lines += [_row(member, wide) for member in card.members]
    if not math.isnan(card.resultant):
        lines += ["", f"together {card.resultant:.2f} of 1.00; {card.chance:.2f} would be chance for so many"]
        lines.append(f"first to last {card.width * 1000:.0f} ms, spread {card.sd * 1000:.0f} ms on average")
    if card.apart:
        lines += ["", "Fell apart:"]
        lines += [
            f"  eight {a.eight} count {say_count(a.count - 1)}: {a.width * 1000:.0f} ms from the first to the last"
            for a in card.apart[:12]
        ]
    followers = sorted((p for p in card.pairs if p.follows), key=lambda p: -p.gain)
    if followers:
        lines += ["", "Who follows whom:"]
        lines += [
            f"  {p.b} follows {p.a} ({p.gain:.0%} by the next cycle, between {p.low:.0%} and {p.high:.0%})"[:WIDTH]
            for p in followers[:12]
        ]
    for reason in card.reasons.values():
        lines += ["", *textwrap.wrap(f"Note: {reason}.", WIDTH, subsequent_indent="  ")]
    return "\n".join(lines)


def _row(member: Member, wide: int) -> str:
    marks = ["."] * (2 * SCALE + 1)
    marks[SCALE] = "|"
    if not math.isnan(member.offset):
        place = round(member.offset / SCALE_END * SCALE)
        marks[max(-SCALE, min(place, SCALE)) + SCALE] = "<" if place < -SCALE else ">" if place > SCALE else "o"
    name = textwrap.shorten(member.member, wide, placeholder="…")
    return f"{name:<{wide}}  {''.join(marks)}  {_signed(member.offset)}  {_signed(member.bias)}  {_ms(member.spread)}"


def _signed(seconds: float) -> str:
    return f"{'' if math.isnan(seconds) else f'{seconds * 1000:+.0f} ms':>8}"


def _ms(seconds: float) -> str:
    return "" if math.isnan(seconds) else f"{seconds * 1000:.0f} ms"
