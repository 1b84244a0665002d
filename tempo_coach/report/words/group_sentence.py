"""A coach's sentence to a group: who left, which sides it has, who is late, where all left the music."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from tempo_coach.languages import tr
from tempo_coach.pattern.drill.count_names import say_count
from tempo_coach.score.group.pace import keeps_another_pace, pace_beside

if TYPE_CHECKING:
    from collections.abc import Sequence

    from tempo_coach.score.group.card import GroupCard, Left, Member, Sides


#: Offsets below this many seconds are not told apart by eye or ear in a group (common practice: a fifth of a count).
SAME = 0.03

#: All together beside the music or the cues, by whether they are behind.
_ALL_OF_YOU_WORDS = {
    ("music", True): "Together, and all of you {bias:.0f} ms behind the music.",
    ("music", False): "Together, and all of you {bias:.0f} ms ahead of the music.",
    ("cues", True): "Together, and all of you {bias:.0f} ms behind the cues.",
    ("cues", False): "Together, and all of you {bias:.0f} ms ahead of the cues.",
}
_WANDERED_WORDS = {
    (
        "music",
        True,
    ): "All of you together, eight {eight}, {offset:.0f} ms behind where you are with the music otherwise",
    (
        "music",
        False,
    ): "All of you together, eight {eight}, {offset:.0f} ms ahead of where you are with the music otherwise",
    ("cues", True): "All of you together, eight {eight}, {offset:.0f} ms behind where you are with the cues otherwise",
    (
        "cues",
        False,
    ): "All of you together, eight {eight}, {offset:.0f} ms ahead of where you are with the cues otherwise",
}


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
        besides = [one for one in card.left if one.member not in {first.member, *(each.member for each in with_her)}]
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
        told.append(
            tr(
                "{member} is {offset:.0f} ms behind the group ({n} moments): listen to the others there."
                if worst.offset > 0
                else "{member} is {offset:.0f} ms ahead of the group ({n} moments): listen to the others there.",
                member=worst.member,
                offset=abs(worst.offset) * 1000,
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
        told.append(tr(_ALL_OF_YOU_WORDS[card.reference, bias > 0], bias=abs(bias) * 1000))
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


def tell_left(one: Left, *, with_her: Sequence[Left] = ()) -> str:
    """Return who left the group, where and how, without a full stop; those who left likewise are named too."""
    names = [each.member for each in with_her]
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
        sizes = [1000 * abs(each.offset) for each in (one, *with_her)]
        if max(sizes) - min(sizes) > 1000 * SAME:
            sized = tr(
                "{names} and {name}", names=", ".join(f"{each:.0f}" for each in sizes[:-1]), name=f"{sizes[-1]:.0f}"
            )
            how = tr("{sizes} ms {way}", sizes=sized, way=_tell_way(one))
        else:
            how = tr("{offset:.0f} ms {way}", offset=sizes[0], way=_tell_way(one))
    who = (
        tr("{names} and {with_her}", names=", ".join([one.member, *names[:-1]]), with_her=names[-1])
        if names
        else one.member
    )
    return f"{who}, {where}, {how}"


def list_left(one: Left) -> str:
    """Return the same for a list of several, and whether she came back."""
    return tell_left(one) if one.back else tr("{left}, did not come back", left=tell_left(one))


def _left_with(first: Left, card: GroupCard) -> list[Left]:
    """Return those who left the group to the same side, in a stretch that mostly coincides with hers."""

    def span(one: Left) -> tuple[float, float]:
        return 8 * one.from_eight + one.from_count, 8 * one.to_eight + one.to_count + 1

    begin, end = span(first)
    found: dict[str, Left] = {}
    for one in card.left:
        start, stop = span(one)
        common = min(stop, end) - max(start, begin)
        if (
            one.member != first.member
            and _tell_way(one) == _tell_way(first)
            and common > 0.5 * max(stop - start, end - begin)
        ):
            found.setdefault(one.member, one)
    return [*found.values()]


def _tell_way(one: Left) -> str:
    if math.isnan(one.offset):
        return tr("away")
    return tr("uneven") if one.uneven else tr("late") if one.offset > 0 else tr("early")


def _tell_with_others(one: Left, with_her: Sequence[Left]) -> str:
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
    form = _WANDERED_WORDS[card.reference, most.offset > 0]
    return tr(form, eight=most.eight, offset=abs(most.offset) * 1000)


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
