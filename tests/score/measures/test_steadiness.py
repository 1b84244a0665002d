"""One meaning of steady: the same quality of movement reaches it in every drill."""

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from tempo_coach import coach
from tempo_coach.observe.take.onsets import Onsets, Take
from tempo_coach.pattern.drill.drill_file import list_drills
from tempo_coach.score.measures.steadiness import (
    LIMIT,
    Scatter,
    allowed_off,
    compare_takes,
    is_steady,
    measure_scatter,
    measure_steadiness,
)
from tests.benchmarks.performers import Who, draw_noise, lateness

MILLS = coach.lay(coach.Request("clubs_mills", cycles=16))
DRILLS = [path.stem for path in list_drills()]


@cache
def judge_as_asked(plan):
    return coach.judge_take(Take(plan, Onsets.unsorted(plan.moments.time.tolist(), plan.moments.hand)))


def judge(plan, late, missing=0):
    """The card of a take whose pairs are right: what is late is told moment by moment."""
    card = judge_as_asked(plan)
    late = np.where(np.arange(len(late)) < missing, np.nan, late)
    return replace(card, asynchrony=late, missed=np.flatnonzero(np.isnan(late)))


@pytest.mark.parametrize("drill", DRILLS)
def test_the_same_movement_is_steady_in_every_drill(drill):
    """A cycle's scatter of 3 % is steady, one of 8 % is not; the whole table is in the benchmarks."""
    plan = coach.lay(coach.Request(drill, cycles=24))
    generator = np.random.default_rng(1)
    steady = {}
    for spread in (0.03, 0.08):
        who = Who("cycle", spread)
        takes = [lateness(plan, who, *draw_noise(plan, who, generator)) for _ in range(12)]
        steady[spread] = sum(measure_scatter(plan, late).size <= LIMIT for late in takes)
    assert steady[0.03] >= 11
    assert steady[0.08] <= 1


def test_scatter_is_that_of_the_periods():  # exact: white scatter of s gives periods an SD of s times the root of 2
    late = np.random.default_rng(2).normal(0, 0.01, len(MILLS.moments))
    assert measure_steadiness(judge(MILLS, late)).scatter.size == pytest.approx(0.01 * np.sqrt(2) / 1.2, rel=0.25)
    assert measure_steadiness(judge(MILLS, np.full(len(late), 0.3))).scatter.size == pytest.approx(0)


def test_a_figure_eight_at_24_ms_is_steady_and_mills_at_60_ms_are_not():
    rope = coach.lay(coach.Request("rope_figure_eight", cycles=16))
    generator = np.random.default_rng(3)
    assert all(is_steady(judge(rope, generator.normal(0, 0.024, len(rope.moments)))) for _ in range(10))
    mills = [is_steady(judge(MILLS, generator.normal(0, 0.06, len(MILLS.moments)))) for _ in range(10)]
    assert not any(mills)


@pytest.mark.parametrize(
    ("broken", "missing", "scale", "steady"),
    [
        (0, 0, 1.0, True),
        (1, 0, 1.0, True),
        (5, 0, 1.0, False),
        (0, 6, 1.0, False),
        (0, 0, 1.06, False),
        (0, 32, 1.0, False),
    ],
)
def test_a_steady_take_is_even_whole_and_in_tempo(broken, missing, scale, steady):
    times = MILLS.moments.time * scale + np.random.default_rng(1).normal(0, 0.008, len(MILLS.moments))
    for k in range(broken):
        times[4 + 5 * k] += 0.2
    keep = np.arange(len(times)) >= missing
    hands = [hand for hand, kept in zip(MILLS.moments.hand, keep.tolist(), strict=True) if kept]
    assert is_steady(coach.judge_take(Take(MILLS, Onsets.unsorted(times[keep].tolist(), hands)))) is steady


def test_a_take_without_onsets_is_not_steady():
    assert not is_steady(coach.judge_take(Take(MILLS, Onsets([], ()))))


def test_a_take_as_anybody_taps_it_is_steady():
    """Scatter of 3 % of the cycle, a lead of 30 ms (people tap with 2 to 5 %: Repp 2005, from memory)."""
    generator = np.random.default_rng(3)
    found = [
        is_steady(judge(MILLS, generator.normal(-0.03, 0.03 * 1.2 / np.sqrt(2), len(MILLS.moments)))) for _ in range(40)
    ]
    assert sum(found) >= 38


def test_one_moment_may_be_off_by_a_share_of_the_cycle_but_never_towards_its_neighbour():  # exact
    assert allowed_off(MILLS, "right") == pytest.approx(np.full(16, 1.5 * LIMIT * 1.2))
    snakes = coach.lay(coach.Request("ribbon_snakes", cycles=4))
    steps = np.diff(snakes.moments.time).min()
    assert allowed_off(snakes, "right").max() <= 0.25 * np.diff(snakes.moments.time).max()
    assert allowed_off(snakes, "right").min() == pytest.approx(min(0.25 * steps, 1.5 * LIMIT * 2.5), rel=0.01)


@pytest.mark.parametrize("family", ["cycle", "step", "heavy", "wandering"])
@pytest.mark.parametrize("drill", ["clubs_mills", "ribbon_snakes"])
def test_whoever_does_not_change_is_neither_steadier_nor_less_steady(family, drill):
    """At most one pair of takes in twenty, however many moments a cycle has; the whole table is in the benchmarks."""
    plan, generator = coach.lay(coach.Request(drill, cycles=16)), np.random.default_rng(5)
    who = Who(family, 0.03)
    card = judge_as_asked(plan)
    takes = [replace(card, asynchrony=lateness(plan, who, *draw_noise(plan, who, generator))) for _ in range(120)]
    told = [compare_takes(one, other) != 0 for one, other in zip(takes[::2], takes[1::2], strict=True)]
    assert sum(told) <= 6  # binomial: more than 6 of 60 at one in twenty come once in thirty


def test_half_the_scatter_is_steadier():
    generator = np.random.default_rng(6)
    card = judge_as_asked(coach.lay(coach.Request("clubs_mills", cycles=24)))
    found = []
    for _ in range(20):
        before, now = (
            replace(card, asynchrony=generator.normal(0, scatter, len(card.asynchrony))) for scatter in (0.03, 0.012)
        )
        found.append((compare_takes(now, before), compare_takes(before, now)))
    assert found.count((1, -1)) >= 18
    assert set(found) <= {(1, -1), (0, 0)}


def test_a_scatter_exceeds_another_by_both_their_errors():  # exact: 2.5 standard errors of the logarithm
    error = np.log(2) / 2.5 / np.sqrt(2)
    assert Scatter(0.04, 0.99 * error).exceeds(Scatter(0.02, 0.99 * error))
    assert not Scatter(0.04, 1.01 * error).exceeds(Scatter(0.02, 1.01 * error))
    assert not Scatter(0.02, 0.0).exceeds(Scatter(0.04, 0.0))
    assert Scatter(0.02, 0.1).exceeds(Scatter(0.0, 0.1))
    assert not Scatter(np.nan, np.nan).exceeds(Scatter(0.02, 0.1))
    assert not Scatter(0.02, 0.1).exceeds(Scatter(np.nan, np.nan))


def test_a_hand_has_a_scatter_of_its_own():
    late = np.random.default_rng(8).normal(0, 0.03, len(MILLS.moments))
    late[[hand == "right" for hand in MILLS.moments.hand]] = 0.0
    assert measure_scatter(MILLS, late, ("right",)).size == pytest.approx(0)
    left, both = measure_scatter(MILLS, late, ("left",)), measure_scatter(MILLS, late)
    periods = 1 + np.diff(late[MILLS.moments.of_hand("left")]) / 1.2
    assert left.size == pytest.approx(np.std(periods, ddof=1), rel=0.1)
    assert both.size == pytest.approx(left.size / np.sqrt(2), rel=0.1)
    # a gap takes out both cycles beside it, and the error of fewer cycles is larger
    late[MILLS.moments.cycle == 7] = np.nan
    assert measure_scatter(MILLS, late, ("left",)).error > left.error
