"""Two sides of a group: told where they lie apart beyond chance and beyond the hall, not of one who is late alone."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tempo_coach.music.counts.count_map import CountMap
from tempo_coach.observe.take.onsets import Onsets, Take
from tempo_coach.pattern.plan.every_count import lay_every_count
from tempo_coach.report.words.group_sentence import tell_group
from tempo_coach.score.group.group import judge_group

PLAN = lay_every_count(CountMap.steady(120), end=48, tempo_bpm=120)
NAMES = ("Ada", "Bea", "Cyl", "Dora", "Eva")  # invented


def perform(offsets, *, away=(), scatter=0.01, seed=3, observed_by="file"):
    rng = np.random.default_rng(seed)
    takes = {}
    for j, name in enumerate(NAMES):
        times = PLAN.moments.time + offsets[j] + scatter * rng.standard_normal(len(PLAN.moments))
        if j in away:
            times[16:24] += 0.2
        takes[name] = Take(PLAN, Onsets(np.sort(times), ("body",) * len(times)), observed_by=observed_by)
    return takes


def test_three_and_two_are_told_apart_with_the_gap_between_them():
    card = judge_group(perform((0.07, 0.0, 0.0, 0.07, 0.0)))
    assert card.sides is not None
    assert (card.sides.ahead, card.sides.behind) == (("Bea", "Cyl", "Eva"), ("Ada", "Dora"))
    assert card.sides.gap == pytest.approx(0.07, abs=0.005)
    told = tell_group(card)
    assert told.startswith("Bea, Cyl and Eva are together, and Ada and Dora together ") and told.endswith(
        "behind them."
    )


@pytest.mark.parametrize(
    "offsets",
    [
        (0.0, 0.0, 0.0, 0.0, 0.1),  # one alone
        (0.0, 0.005, -0.005, 0.0, 0.01),  # nobody
        (0.0, 0.04, 0.08, 0.12, 0.16),  # a row without sides
        (0.0, 0.0, 0.0, 0.02, 0.02),  # under a fifth of a quick count
    ],
)
def test_what_has_no_sides_is_not_given_any(offsets):
    assert judge_group(perform(offsets)).sides is None


def test_sides_inside_what_the_hall_explains_are_not_told():
    offsets = (0.0, 0.0, 0.0, 0.06, 0.06)
    assert judge_group(perform(offsets, observed_by="clap")).sides is None
    assert judge_group(perform(offsets, observed_by="clap"), hall=2.0).sides is not None


def test_two_who_leave_together_are_named_together():
    card = judge_group(perform((0.0,) * 5, away=(3, 4)))
    assert [one.member for one in card.left] == ["Dora", "Eva"]
    assert all(one.others < 0.02 for one in card.left)
    assert tell_group(card).startswith("Dora and Eva, eight 3 counts 1 to 8, ")
    # each with her own size where they differ by more than is told apart
    dora, eva = card.left
    unlike = replace(card, left=(dora._replace(offset=0.12), eva._replace(offset=0.2)))
    assert tell_group(unlike).startswith("Eva and Dora, eight 3 counts 1 to 8, 200 and 120 ms late; ")


def test_who_keeps_a_tempo_of_her_own_is_named_with_it_and_nothing_else_is():
    takes = perform((0.0,) * 5)
    first = PLAN.moments.time[0]
    fast = first + (PLAN.moments.time - first) * 0.95
    takes["Eva"] = Take(PLAN, Onsets(fast, ("body",) * len(fast)))
    card = judge_group(takes)
    assert card.members[4].pace == pytest.approx(-0.05, abs=0.003) and card.sides is None
    assert tell_group(card).startswith("Not one tempo: Eva is 5 % faster than the middle of the group")
