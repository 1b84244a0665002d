"""What the whole take may have been: tempo, hands, no rhythm."""

import numpy as np
import pytest

from tempo_coach import coach
from tempo_coach.score.pairing.hypotheses import HandStream, find_hypotheses

MILLS = coach.lay(coach.Request("clubs_mills", tempo_bpm=100, cycles=12))
ROPE = coach.lay(coach.Request("rope_figure_eight", tempo_bpm=100, cycles=12))
ASYMMETRIC = coach.lay(coach.Request("clubs_asymmetric", tempo_bpm=90, cycles=12))


def hypotheses_of(plan, change, *, swapped=False, seed=0):
    """Hypotheses of a take whose times are what ``change`` makes of the asked ones, with 1 % of scatter."""
    period, end = float(np.diff(plan.cycle_starts)[0]) * 60 / 100, plan.duration
    generator = np.random.default_rng(seed)
    asked = [plan.moments.time[plan.moments.of_hand(hand)] for hand in plan.hands]
    done = [np.sort(change(times) + generator.normal(0, 0.01 * period, len(change(times)))) for times in asked]
    cycles = [plan.moments.cycle[plan.moments.of_hand(hand)] for hand in plan.hands]
    parts = [HandStream(*each) for each in zip(asked, cycles, done[::-1] if swapped else done, strict=True)]
    return find_hypotheses(parts, period=period, end=end)


def stretched(plan, ratio):
    start = plan.moments.time[0]
    return lambda times: start + (times - start) * ratio


@pytest.mark.parametrize("plan", [MILLS, ROPE, ASYMMETRIC])
def test_take_on_the_plan_is_laid_on_it(plan):
    found = hypotheses_of(plan, lambda times: times)
    assert found.best.ratio == 1 and not found.best.swapped
    assert all((answer == np.arange(len(answer))).all() for answer in found.best.answers)
    assert not sum(map(len, found.best.extra))
    assert found.no_rhythm > found.best.cost
    assert [hypothesis.cost for hypothesis in found.tried] == sorted(hypothesis.cost for hypothesis in found.tried)


@pytest.mark.parametrize("plan", [MILLS, ROPE, ASYMMETRIC])
@pytest.mark.parametrize("ratio", [0.5, 0.87, 1.09, 1.3, 2.0])
def test_another_tempo_is_found_and_every_moment_has_its_onset(plan, ratio):
    found = hypotheses_of(plan, stretched(plan, ratio)).best
    assert found.ratio == pytest.approx(ratio, rel=0.02)
    assert all((answer >= 0).all() for answer in found.answers)


@pytest.mark.parametrize("plan", [ASYMMETRIC, MILLS])
def test_swapped_hands_answer_each_others_moments(plan):
    found = hypotheses_of(plan, lambda times: times, swapped=True)
    assert found.best.swapped and found.best.ratio == 1
    assert all((answer == np.arange(len(answer))).all() for answer in found.best.answers)


@pytest.mark.parametrize("plan", [MILLS, ROPE, ASYMMETRIC])
def test_onsets_anywhere_have_no_rhythm(plan):
    generator = np.random.default_rng(4)
    found = hypotheses_of(plan, lambda times: np.sort(generator.uniform(times[0], times[-1], len(times))))
    assert found.no_rhythm < found.best.cost


def test_a_few_missed_moments_are_no_other_tempo():
    found = hypotheses_of(ROPE, lambda times: np.delete(times, [4, 11, 20, 29]))
    assert found.best.ratio == 1
    assert np.flatnonzero(found.best.answers[0] < 0).tolist() == [4, 11, 20, 29]


def test_without_onsets_there_is_a_frame_and_no_answer():
    found = hypotheses_of(MILLS, lambda times: times[:0])
    assert all((answer < 0).all() for answer in found.best.answers)
    assert found.no_rhythm == np.inf


def test_without_moments_there_is_a_frame_too():
    nothing = np.array([])
    found = find_hypotheses([HandStream(nothing, nothing.astype(int), np.array([1.0, 2.0]))], period=1.0, end=0.0)
    assert len(found.best.answers[0]) == 0
