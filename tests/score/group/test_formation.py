"""A routine's marks of canon, mirrored hands and unison: each member is judged by her own part."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tempo_coach.music.counts.count_map import CountMap, Position
from tempo_coach.observe.take.onsets import Onsets, Take
from tempo_coach.pattern.plan.every_count import lay_every_count
from tempo_coach.pattern.routine.routine import MusicFile, Routine, RoutineMoment
from tempo_coach.score.group.formation import Formation, lay_part, read_formations
from tempo_coach.score.group.group import judge_group
from tests.refused import refused

PLAN = lay_every_count(CountMap.steady(120), end=32, tempo_bpm=120)
NAMES = ("Ada", "Bea", "Cyl")  # invented


def marks(*moments):
    return read_formations(Routine("three", MusicFile("three.wav"), moments=tuple(moments)))


def test_a_canon_between_two_marks_shifts_its_own_moments_alone():
    formations = marks(
        RoutineMoment("unison", Position(5, 1.0)),
        RoutineMoment("canon", Position(3, 1.0), "Bea:2, Cyl:4"),
        RoutineMoment("toss", Position(3, 3.0)),
    )
    assert [one.at.eight for one in formations] == [3, 5] and formations[0].later == {"Bea": 2, "Cyl": 4}
    rng = np.random.default_rng(1)
    takes = {}
    for k, name in enumerate(NAMES):
        times = PLAN.moments.time.copy()
        inside = (PLAN.moments.count >= 16) & (PLAN.moments.count < 32)
        times[inside] += 2 * k * 0.5
        # between the marks she does 16 moments, and those of the unison that she is not yet there for are missed
        times = times[~((PLAN.moments.count >= 32) & (PLAN.moments.count < 32 + 2 * k))]
        times = times + 0.01 * rng.standard_normal(len(times)) + (0.09 if name == "Cyl" else 0.0)
        takes[name] = Take(PLAN, Onsets(np.sort(times), ("body",) * len(times)))
    card = judge_group(takes, formations=formations)
    assert [m.n for m in card.members] == [len(PLAN.moments), len(PLAN.moments) - 2, len(PLAN.moments) - 4]
    assert [round(1000 * m.bias) for m in card.members] == pytest.approx([0, 0, 90], abs=6)
    assert not card.canon and not [one for one in card.left if one.member == "Ada"]


def test_who_ends_her_canon_in_the_unison_acts_once_for_both():
    formations = marks(RoutineMoment("canon", Position(3, 1.0), "Cyl:4"), RoutineMoment("unison", Position(5, 1.0)))
    rng = np.random.default_rng(4)
    takes = {}
    for name in ("Ada", "Bea", "Cyl", "Dora"):
        counts = PLAN.moments.count[(PLAN.moments.count < 16) | (PLAN.moments.count >= 16 + 4 * (name == "Cyl"))]
        times = PLAN.moments.time[np.isin(PLAN.moments.count, counts)] + 0.01 * rng.standard_normal(len(counts))
        takes[name] = Take(PLAN, Onsets(np.sort(times), ("body",) * len(times)))
    card = judge_group(takes, formations=formations)
    assert card.left == ()
    assert [m.n for m in card.members] == [len(PLAN.moments) - 4 * (m.member == "Cyl") for m in card.members]


def two_hands():
    hands = tuple("left" if k % 3 else "right" for k in range(len(PLAN.moments)))
    return replace(PLAN, hands=("left", "right"), moments=replace(PLAN.moments, hand=hands))


def test_mirrored_hands_change_sides_from_the_mark_to_the_next():
    plan = two_hands()
    formations = marks(
        RoutineMoment("mirrored", Position(2, 1.0), "Bea"), RoutineMoment("unison", Position(3, 1.0), "")
    )
    swapped = {"left": "right", "right": "left"}
    hands = [
        swapped[hand] if 8 <= count < 16 else hand
        for hand, count in zip(plan.moments.hand, plan.moments.count.tolist(), strict=True)
    ]
    takes = {"Ada": plan.moments.hand, "Bea": tuple(hands)}
    group = {name: Take(plan, Onsets(plan.moments.time, own)) for name, own in takes.items()}
    card = judge_group(group, formations=formations)
    assert [m.n for m in card.members] == [len(plan.moments)] * 2 and card.width == pytest.approx(0.0, abs=1e-9)
    # without the mark those eight moments lie in the wrong hands
    assert judge_group(group).members[1].n < len(plan.moments)


def test_who_has_no_part_of_her_own_keeps_the_plan():
    take = Take(PLAN, Onsets(PLAN.moments.time, ("body",) * len(PLAN.moments)))
    same, order = lay_part(take, "Ada", (Formation(Position(2, 1.0), {"Bea": 2}, frozenset()),))
    assert same is take and order.tolist() == list(range(len(PLAN.moments)))


@pytest.mark.parametrize(
    ("what", "hand", "said"),
    [
        ("canon", "", "expected members, found ''"),
        ("canon", "Bea", "expected a member and by how many counts she is later, as in Bea:2, found 'Bea'"),
        ("canon", "Bea:2, Bea:4", "found 'Bea:4'"),
        ("mirrored", " , ", "expected members"),
    ],
)
def test_a_mark_that_does_not_say_whom_it_is_of_is_refused_at_its_place(what, hand, said):
    with refused(said):
        marks(RoutineMoment(what, Position(3, 1.0), hand))


def test_a_mark_of_somebody_who_is_not_there_is_refused():
    take = Take(PLAN, Onsets(PLAN.moments.time, ("body",) * len(PLAN.moments)))
    formations = marks(RoutineMoment("canon", Position(3, 1.0), "Eva:2"))
    with refused("Eva"):
        judge_group({"Ada": take, "Bea": take}, formations=formations)
