"""Takes that are not what a take should be: each is judged, without a warning, and nothing wrong is said of her."""

import json
from dataclasses import fields, replace

import numpy as np
import pytest

from tempo_coach import coach
from tempo_coach.observe.take.onsets import Onsets, Take
from tempo_coach.pattern.plan.plan import Moments
from tempo_coach.report.words.sentence import tell
from tempo_coach.score.card import judge
from tests.refused import refused

PLANS = [
    coach.lay(coach.Request(drill, cycles=16)) for drill in ("clubs_mills", "rope_figure_eight", "clubs_mills_three")
]
EVERY = pytest.mark.parametrize("plan", PLANS, ids=lambda plan: plan.drill)
#: What may be said where hardly anything, or anything at all, was done.
NOTHING = {"too_little", "no_rhythm"}


def done(plan, seed=0):
    return plan.moments.time + np.random.default_rng(seed).normal(0, 0.008, len(plan.moments)), list(plan.moments.hand)


def card_of(plan, times, hands):
    card = judge(Take(plan, Onsets.unsorted(list(times), list(hands))))
    json.dumps(card.to_dict(), allow_nan=False)
    return card


def kinds(card):
    return {found.kind for found in card.findings}


@EVERY
def test_two_onsets_at_one_instant_are_one_too_many(plan):
    times, hands = done(plan)
    card = card_of(plan, [*times, times[10]], [*hands, hands[10]])
    assert [(found.kind, found.hand) for found in card.findings] == [("extra", hands[10])]
    assert len(card.extra_time) == 1 and not len(card.missed)


@EVERY
@pytest.mark.parametrize("apart", [0.0, 0.008])
def test_every_onset_twice_is_as_many_too_many(plan, apart):
    times, hands = done(plan)
    card = card_of(plan, [*times, *(times + apart)], [*hands, *hands])
    assert kinds(card) == {"extra"}
    assert len(card.extra_time) == len(times) and not len(card.missed)
    assert card.value("bias_ms") == pytest.approx(0, abs=3)


@EVERY
def test_all_onsets_at_one_instant_are_too_little(plan):
    times, hands = done(plan)
    assert kinds(card_of(plan, np.full(len(times), times[5]), hands)) <= NOTHING


@EVERY
@pytest.mark.parametrize("number", [0, 1])
def test_one_onset_and_none_are_too_little(plan, number):
    times, hands = done(plan)
    card = card_of(plan, times[:number], hands[:number])
    assert kinds(card) == {"too_little"}
    assert card.measures["bias_ms"].n == number


@EVERY
def test_ten_times_too_many_onsets(plan):
    times, hands = done(plan)
    generator = np.random.default_rng(1)
    anywhere = generator.uniform(times[0], times[-1], 10 * len(times))
    assert kinds(card_of(plan, anywhere, [hands[k % len(hands)] for k in range(len(anywhere))])) == {"no_rhythm"}
    bursts = (times[:, None] + 0.004 * np.arange(10)).ravel()
    card = card_of(plan, bursts, np.repeat(hands, 10))
    assert kinds(card) == {"extra"} and len(card.extra_time) == 9 * len(times)


@EVERY
@pytest.mark.parametrize("hours", [2, -2, 500_000])
def test_times_of_another_clock_answer_nothing(plan, hours):
    times, hands = done(plan)
    card = card_of(plan, times + 3600 * hours, hands)
    assert kinds(card) == {"too_little"}
    assert card.measures["bias_ms"].n == 0
    assert len(card.missed) == len(card.extra_time) == len(times)


@EVERY
def test_plan_and_take_may_lie_before_0(plan):
    times, hands = done(plan)
    there = card_of(plan, times, hands)
    moved = replace(plan, moments=replace(plan.moments, time=plan.moments.time - 20), duration=plan.duration - 20)
    here = card_of(moved, times - 20, hands)
    assert kinds(here) == kinds(there) == {"even"}
    assert here.value("bias_ms") == pytest.approx(there.value("bias_ms"))


@EVERY
def test_moments_at_equal_times_are_judged(plan):
    asked = plan.moments.time.copy()
    asked[9] = asked[8]
    asked[12:15] = asked[12]
    bent = replace(plan, moments=replace(plan.moments, time=asked))
    card = card_of(bent, asked, plan.moments.hand)
    assert kinds(card) == {"even"} and not len(card.missed) and not len(card.extra_time)
    at_once = replace(plan, moments=replace(plan.moments, time=np.full(len(asked), 3.0)))
    assert kinds(card_of(at_once, *done(plan))) <= NOTHING
    assert card_of(at_once, np.full(len(asked), 3.0), plan.moments.hand).value("bias_ms") in (0, pytest.approx(0))


def only_right(plan):
    keep = plan.moments.of_hand("right")
    columns = {each.name: np.asarray(getattr(plan.moments, each.name))[keep].tolist() for each in fields(Moments)}
    return replace(plan, moments=Moments(**columns))


@pytest.mark.parametrize("plan", [PLANS[0], PLANS[2]], ids=lambda plan: plan.drill)
def test_onsets_of_a_hand_without_moments_are_too_many(plan):
    times, hands = done(plan)
    right = only_right(plan)
    keep = plan.moments.of_hand("right")
    assert kinds(card_of(right, times[keep], ["right"] * len(keep))) == {"even"}
    card = card_of(right, times, hands)
    assert {(found.kind, found.hand) for found in card.findings} == {("extra", "left")}
    assert set(card.extra_hand) == {"left"} and len(card.extra_hand) == len(times) - len(keep)


@pytest.mark.parametrize("plan", [PLANS[0], PLANS[2]], ids=lambda plan: plan.drill)
def test_hand_that_does_nothing_is_missed_and_did_not_come_in_late(plan):
    times, _ = done(plan)
    left = plan.moments.of_hand("left")
    card = card_of(plan, times[left], ["left"] * len(left))
    assert {(found.kind, found.hand) for found in card.findings} == {("missed", "right")}
    assert len(card.missed) == len(times) - len(left)


def test_hand_that_is_not_in_the_plan_is_named(tmp_path):
    with pytest.raises(ValueError, match="foot"):
        Take(PLANS[0], Onsets([1.0], ("foot",)))
    table = tmp_path / "onsets.csv"
    table.write_text("time,hand\n1,right\n2,foot\n")
    with refused("foot") as caught:
        coach.judge_file(table, PLANS[0])
    assert caught.value.where == f"{table}:3"


@EVERY
def test_burst_in_the_middle_after_which_nothing_comes_is_a_stop(plan):
    """The last onset again and again."""
    times, hands = done(plan)
    half = len(times) // 2
    card = card_of(plan, [*times[:half], *np.full(10, times[half - 1])], [*hands[:half], *[hands[half - 1]] * 10])
    assert card.findings[0].kind == "stopped"
    assert kinds(card) == {"stopped", "extra"}


@pytest.mark.parametrize("plan", PLANS[::2], ids=lambda plan: plan.drill)
def test_many_more_onsets_than_moments_are_told_as_that_and_not_as_hers(plan):
    times, hands = done(plan)
    bounced = np.concatenate([times + 0.03 * k for k in range(4)])
    said = tell(card_of(plan, bounced, hands * 4))
    assert {str(len(bounced)), str(len(times))} <= set(said.split()) and "slow down" not in said
