"""What is told of a whole take, and in what order: several things at once, hands apart, what can be told at all."""

import numpy as np
import pytest

from tempo_coach import coach
from tempo_coach.observe.take.onsets import Onsets, Take
from tempo_coach.report.words.sentence import tell
from tempo_coach.score.card import judge
from tempo_coach.score.faults.findings import DOUBTFUL, sure_of_level
from tests.benchmarks.faults import Fault, lay, period_of
from tests.benchmarks.judging import SPREADS, TUNING, Draw, ways
from tests.benchmarks.performers import Who, perform
from tests.benchmarks.seen import find
from tests.benchmarks.told import is_right

MILLS = coach.lay(coach.Request("clubs_mills", tempo_bpm=100, cycles=24))
ROPE = coach.lay(coach.Request("rope_figure_eight", tempo_bpm=100, cycles=16))
EVEN = Who(spread=0.02)


def judged(plan, change=None, *, leave_out=(), seed=1, who=EVEN, fault=None):
    """The card of an even performer with what else is done to her times, and moments left out."""
    take = perform(plan, who, np.random.default_rng(seed), fault or Fault()).take
    assert len(take.onsets) == len(plan.moments)
    # of each moment its onset, in order of the plan
    times = np.empty(len(plan.moments))
    for hand in plan.hands:
        times[plan.moments.of_hand(hand)] = take.onsets.of_hand(hand)
    times = times + (0 if change is None else change)
    keep = np.setdiff1d(np.arange(len(times)), leave_out)
    return judge(Take(plan, Onsets.unsorted(times[keep].tolist(), [plan.moments.hand[k] for k in keep])))


def kinds(card):
    return [found.kind for found in card.findings]


def longer(plan, cycle, by):
    start, end = (
        plan.moments.time[plan.moments.cycle == cycle].min(),
        plan.moments.time[plan.moments.cycle == cycle + 1].min(),
    )
    return by * np.clip((plan.moments.time - start) / (end - start), 0, 1)


@pytest.mark.parametrize("plan", [MILLS, ROPE], ids=lambda plan: plan.drill)
@pytest.mark.parametrize("seed", range(3))
def test_missed_moment_beside_a_long_cycle(plan, seed):
    missed = int(np.flatnonzero(plan.moments.cycle == 9)[-1])
    card = judged(plan, longer(plan, 7, 0.3 * period_of(plan)), leave_out=[missed], seed=seed)
    told = {(found.kind, found.cycle) for found in card.findings}
    assert {("long", 7), ("missed", 9)} <= told
    assert card.missed.tolist() == [missed] and not len(card.extra_time)


@pytest.mark.parametrize("hand", ["right", "left"])
@pytest.mark.parametrize("seed", range(3))
def test_pause_of_one_hand_is_told_of_that_hand(hand, seed):
    mine = MILLS.moments.of_hand(hand)
    card = judged(MILLS, leave_out=mine[10:14].tolist(), seed=seed)
    assert {(found.kind, found.hand) for found in card.findings} == {("missed", hand)}
    assert [found.cycle for found in card.findings] == MILLS.moments.cycle[mine[10:14]].tolist()
    assert {cycle.hand for cycle in card.flagged} == {hand}


@pytest.mark.parametrize("hand", ["right", "left"])
def test_hesitation_of_one_hand_is_told_of_that_hand(hand):
    mine = MILLS.moments.of_hand(hand)
    late = 0.4 * np.isin(np.arange(len(MILLS.moments)), mine[12:])
    for seed in range(3):
        findings = judged(MILLS, late, seed=seed).findings
        assert {found.hand for found in findings if found.kind in ("hesitated", "long", "slipped")} == {hand}
        assert not {found.hand for found in findings} - {hand, ""}


def test_missed_and_extra_in_one_take():
    missed = int(ROPE.moments.of_hand("right")[20])
    between = float(ROPE.moments.time[36:38].mean())
    take = perform(ROPE, EVEN, np.random.default_rng(4)).take
    times = [*np.delete(take.onsets.time, missed), between]
    card = judge(Take(ROPE, Onsets.unsorted(times, ["right"] * len(times))))
    assert sorted(kinds(card)) == ["extra", "missed"]
    assert card.missed.tolist() == [missed] and card.extra_time.tolist() == [between]


def test_whole_comes_before_parts():
    """All of it slower, one moment missed: the tempo first, and all else is told beside it."""
    start = ROPE.moments.time[0]
    card = judged(ROPE, 0.12 * (ROPE.moments.time - start), leave_out=[22])
    assert kinds(card)[0] == "other_tempo" and set(kinds(card)[1:]) == {"missed"}
    assert card.findings[0].ratio == pytest.approx(1 / 1.12, rel=0.02)
    assert card.missed.tolist() == [22]


def test_two_long_cycles_are_both_told_and_no_other():
    card = judged(MILLS, longer(MILLS, 5, 0.35) + longer(MILLS, 15, 0.4), seed=2)
    assert {(found.kind, found.cycle) for found in card.findings} == {("long", 5), ("long", 15)}


def test_hands_off_in_opposite_ways_are_neither_late_nor_early():
    """Right 200 ms early, left 200 ms late: their mean is no lateness of the whole."""
    left = np.array(MILLS.moments.hand) == "left"
    card = judged(MILLS, np.where(left, 0.2, -0.2))
    assert kinds(card)[0] == "lag_off"
    assert not {"all_late", "all_early", "even"} & set(kinds(card))


def test_hands_that_lie_whole_cycles_apart_came_in_early_and_late():
    """Right a cycle early, left a cycle late: no lag shows it, and their mean is none."""
    left, cycle = np.array(MILLS.moments.hand) == "left", period_of(MILLS)
    card = judged(MILLS, np.where(left, cycle, -cycle))
    told = [(found.kind, found.hand, found.by_counts) for found in card.findings]
    assert told == [("late_entry", "right", -MILLS.cycle_counts), ("late_entry", "left", MILLS.cycle_counts)]
    assert {"early.", "late.", "right", "left"} <= set(tell(card).split())


def test_what_is_told_of_a_cycle_is_flagged_there_and_nothing_else_is():
    card = judged(MILLS, longer(MILLS, 7, 0.4), leave_out=[30])
    flagged = {(row.cycle, flag.kind) for row in card.flagged for flag in row.flags}
    assert flagged == {(found.cycle, found.kind) for found in card.findings if found.cycle is not None}
    assert kinds(judged(MILLS)) == ["even"] and not judged(MILLS).flagged


def test_difference_that_nobody_hears_is_not_told():
    """2.5 % of an interval, 6 ms in short ones (Friberg & Sundberg 1995, abstract)."""
    who = Who(spread=1e-4)
    change = np.zeros(len(MILLS.moments))
    change[20] = 0.02 * 1.2
    assert kinds(judged(MILLS, change, who=who)) == ["even"]
    change[20] = 0.06 * 1.2
    assert kinds(judged(MILLS, change, who=who)) == ["late"]


def test_tempo_of_ones_own_is_told_from_2_per_cent_on():
    start = ROPE.moments.time[0]
    for share, told in ((0.002, "even"), (0.05, "other_tempo"), (-0.05, "other_tempo")):
        assert kinds(judged(ROPE, share * (ROPE.moments.time - start), who=Who(spread=0.01)))[0] == told


@pytest.mark.parametrize("number", [2, 3])
def test_too_few_cycles_are_too_little(number):
    keep = np.flatnonzero(ROPE.moments.cycle >= number)
    found = kinds(judged(ROPE, leave_out=keep.tolist()))
    assert found == (["too_little"] if number == 2 else ["stopped"])


def test_each_finding_of_a_long_broken_take_is_placed(monkeypatch):
    """Where one of the onsets too many lies is looked up, not sought from the begin each time."""
    from tempo_coach.score.faults import broken

    calls = []
    times_of = broken._times_of
    monkeypatch.setattr(broken, "_times_of", lambda *each: calls.append(0) or times_of(*each))
    plan = lay("rope_figure_eight", 32)
    take = perform(plan, EVEN, np.random.default_rng(1)).take
    too_many = take.onsets.time[1:-1:3] + 0.3
    card = judge(
        Take(plan, Onsets.unsorted([*take.onsets.time, *too_many], ["right"] * (len(take.onsets) + len(too_many))))
    )
    assert kinds(card) == ["extra"] * len(too_many)
    assert len(calls) <= 2


def test_search_for_faults_is_done_once(monkeypatch):
    from tempo_coach.score.faults import verdict

    calls = []
    find = verdict.find_faults
    monkeypatch.setattr(verdict, "find_faults", lambda *each: calls.append(find(*each)) or calls[-1])
    judged(MILLS)
    assert len(calls) == 1


@pytest.mark.parametrize("drill", ["clubs_mills", "ball_bounces"])
def test_jump_ahead_is_told_and_not_what_is_missing_in_it(drill):
    plan = lay(drill, 16)
    for seed in range(3):
        take = perform(plan, EVEN, np.random.default_rng(seed), Fault("slipped", cycle=7, counts=-1.0)).take
        first, *others = judge(take).findings
        assert first.kind == "slipped" and abs(first.cycle - 7) <= 1
        assert first.by_counts == pytest.approx(-1.0, abs=0.2)
        assert "missed" not in {found.kind for found in others}


@pytest.mark.parametrize("by", [-1, 1])
@pytest.mark.parametrize("drill", ["hoop_floor_roll", "hoop_toss_roll"])
def test_one_moment_off_by_a_count_and_the_next_in_its_place_is_no_slip(drill, by):
    plan, kind = lay(drill, 16), "late" if by > 0 else "early"
    fault = Fault(kind, moment=len(plan.moments) // 2, by=by * period_of(plan) / plan.cycle_counts)
    first, *_ = find(perform(plan, EVEN, np.random.default_rng(5), fault).take).findings
    assert (first.kind, first.cycle) == (kind, plan.moments.cycle[fault.moment])


@pytest.mark.parametrize(("drill", "number"), [("hoop_floor_roll", 301), ("ball_toss_turn", 3)])
def test_who_errs_from_step_to_step_is_surer_all_in_all_than_her_periods_say(drill, number):
    draw = Draw(TUNING, lengths=(8,), spreads=SPREADS[:1])
    ((performed, right),) = ways(drill, "all_early", 1, draw, first=number)
    assert performed.who.family == "step"
    assert is_right(find(performed.take), performed, right)


@pytest.mark.parametrize(("drill", "cycles", "number"), [("clubs_small_toss_one", 8, 1000), ("ball_flip", 16, 1002)])
def test_late_moment_comes_before_a_level_that_hardly_differs_from_none(drill, cycles, number):
    draw = Draw(TUNING, lengths=(cycles,), spreads=SPREADS[:1])
    ((performed, _),) = ways(drill, "late", 1, draw, first=number)
    late, early = find(performed.take).findings
    assert (late.kind, early.kind) == ("late", "all_early")
    assert 0.35 < early.confidence < late.confidence


@pytest.mark.parametrize("cycles", [16, 32])
def test_hand_that_is_off_beside_the_other_is_no_level_of_both(cycles):
    """Half of what she is off by is the level of both: the other hand lies where it may."""
    draw = Draw(TUNING, lengths=(cycles,), spreads=SPREADS[:1])
    ((performed, right),) = ways("clubs_mills", "lag_off", 1, draw, first=1)
    card = find(performed.take)
    assert is_right(card, performed, right)
    assert card.findings[0].by_ms == pytest.approx(1000 * performed.fault.by, rel=0.1)
    assert "all_late" not in {found.kind for found in card.findings}


def test_level_is_surer_the_further_from_none_and_never_wholly_sure():
    sure = [sure_of_level(sds) for sds in (0.0, 2.0, 3.0, 4.0, 1000.0)]
    assert sure == sorted(sure)
    assert sure[1] >= DOUBTFUL
    assert 0.9 < sure[3] < sure[4] < 1
