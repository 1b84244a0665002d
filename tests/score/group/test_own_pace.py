"""One who keeps a tempo of her own, and a member's take when it is judged alone."""

from __future__ import annotations

import numpy as np
import pytest

from tempo_coach.music.counts.count_map import CountMap
from tempo_coach.observe.take.onsets import Onsets, Take
from tempo_coach.pattern.plan.every_count import lay_every_count
from tempo_coach.report.words.group_sentence import tell_group
from tempo_coach.score.card import judge
from tempo_coach.score.group.group import judge_group
from tempo_coach.score.group.own_moments import keep_own_part
from tempo_coach.score.group.pace import OTHER_PACE, find_pace

PLAN = lay_every_count(CountMap.steady(120), end=24, tempo_bpm=120)
TIMES = PLAN.moments.time


def take(times):
    return Take(PLAN, Onsets(np.asarray(times), ("body",) * len(times)))


def test_who_keeps_another_tempo_is_told_and_the_others_are_judged_without_her():
    rng = np.random.default_rng(3)
    takes = {
        name: take(TIMES + off + 0.01 * rng.standard_normal(len(TIMES))) for name, off in (("Ada", 0), ("Bea", 0.02))
    }
    takes["Cyl"] = take(TIMES[:26] + 0.01 * rng.standard_normal(26))  # stops
    alone = judge_group(takes)
    card = judge_group({**takes, "Dora": take(TIMES * 1.06)})
    assert "Dora is 6 % slower" in tell_group(card) and "Cyl" in tell_group(card) and "The others:" in tell_group(card)
    for one, other in zip(alone.members, card.members, strict=False):
        assert one.offset == pytest.approx(other.offset, abs=1e-9) and one.bias == other.bias
    assert (card.width, card.sd, card.apart) == (alone.width, alone.sd, alone.apart)
    assert abs(card.members[3].offset) > 0.1


def test_all_of_different_tempi_are_still_judged():
    card = judge_group({name: take(TIMES * pace) for name, pace in (("Ada", 1.0), ("Bea", 1.08), ("Cyl", 0.92))})
    assert tell_group(card).startswith("Not one tempo:") and all(m.n for m in card.members)


def test_five_tempi_are_told_as_they_are_however_far_apart():
    paces = {"Ada": 0.9, "Bea": 1.0, "Cyl": 1.1, "Dora": 1.2, "Eva": 1.3}
    card = judge_group({name: take(1 + (TIMES - 1) * pace) for name, pace in paces.items()}, own_clock=True)
    told = tell_group(card)
    for said in ("Ada is 18 % faster", "Bea is 9 % faster", "Dora is 9 % slower", "Eva is 18 % slower"):
        assert said in told
    assert "Cyl" not in told


def test_a_take_that_begins_before_the_plan_is_not_moved_by_counts_when_it_is_judged_alone():
    early = take(np.concatenate([TIMES[0] - 0.5 * np.arange(4, 0, -1), TIMES]) + 0.02)
    own = keep_own_part(early)
    assert len(own.onsets) == len(TIMES) and judge(own).asynchrony == pytest.approx(0.02, abs=1e-6)
    elsewhere = take(TIMES + 1000)
    assert len(keep_own_part(elsewhere).onsets) == len(TIMES), "what lies elsewhere is kept as it is"


def test_of_members_in_turn_each_has_her_own_moments():
    own = keep_own_part(take(TIMES[3::8] + 0.03), round_of=8)
    assert len(own.plan.moments) == len(TIMES[3::8])
    assert judge(own).asynchrony == pytest.approx(0.03, abs=1e-6)


@pytest.mark.parametrize("first", [10, 14, 18])
def test_who_slips_by_half_a_cycle_keeps_her_tempo(first):
    plan = lay_every_count(CountMap.steady(120), end=12, tempo_bpm=120)
    number = len(plan.moments)
    noise = 0.01 * np.random.default_rng(first).standard_normal(number)
    slipped = np.where(np.arange(number) >= first, -0.5, 0.0)
    assert abs(find_pace(slipped + noise, plan)) < OTHER_PACE
    assert find_pace(0.04 * plan.moments.time + noise, plan) == pytest.approx(0.04, abs=0.005)
