"""Slips of all hands: proposed where lateness jumps, and told as one."""

import numpy as np
import pytest

from tempo_coach.score.pairing.hand import follow_hands
from tempo_coach.score.pairing.slips import Paired, Slip, propose_slips
from tests.benchmarks.faults import Fault, lay, nodes_of, period_of, seconds_slipped
from tests.benchmarks.judging import SPREADS, TUNING, Draw, ways
from tests.benchmarks.performers import Who, perform
from tests.benchmarks.seen import find
from tests.benchmarks.told import is_right

EVEN = np.arange(0.0, 24.0, 2.0)


def test_slip_shifts_what_comes_after_it_and_leaves_out_what_it_jumps_over():
    ahead, behind = Slip(6.0, -2.0, 0.5), Slip(6.0, 2.0, 0.5)
    asked = np.array([2.0, 3.4, 4.0, 5.0, 6.0, 7.0])
    assert ahead.shift(asked).tolist() == [2.0, 3.4, 4.0, 5.0, 4.0, 5.0]
    assert ahead.left_out(asked).tolist() == [False, False, True, True, False, False]
    assert behind.shift(asked).tolist() == [2.0, 3.4, 4.0, 5.0, 8.0, 9.0]
    assert not behind.left_out(asked).any()


def test_nothing_is_proposed_where_lateness_does_not_jump():
    every = np.arange(len(EVEN))
    assert propose_slips([Paired(EVEN, EVEN + 0.3, every)], count=1.0, counts=4) == []


@pytest.mark.parametrize("late", [0.0, 0.4, -0.4])
def test_one_that_explains_everything_is_among_what_is_proposed_however_late_she_is(late):
    truth = Slip(12.0, 1.0, 0.5)
    onsets = truth.shift(EVEN) + late
    proposed = propose_slips([Paired(EVEN, onsets, np.arange(len(EVEN)))], count=1.0, counts=4)
    assert (truth.at, truth.by) in [(each.at, each.by) for each in proposed]


@pytest.mark.parametrize("counts", [-3.0, 2.0])
@pytest.mark.parametrize("cycles", [8, 16])
def test_two_hands_that_slip_together_slip_once(counts, cycles):
    """Each of these hands has its moments four counts apart in pairs: three counts ahead look like one behind."""
    plan = lay("clubs_small_toss_two", cycles)
    fault = Fault("slipped", cycle=cycles // 2, counts=counts, cut=counts > 0)
    take = perform(plan, Who(spread=0.02), np.random.default_rng(3), fault).take
    slip = follow_hands(take)[1].best.slip
    assert slip is not None
    assert slip.by == pytest.approx(seconds_slipped(plan, fault), rel=0.01)
    assert slip.at == pytest.approx(nodes_of(plan)[fault.cycle], abs=1.0)
    found = [each for each in find(take).findings if not each.is_doubtful]
    assert [(each.kind, each.hand) for each in found] == [("slipped", "")]
    assert round(found[0].by_counts) == counts


@pytest.mark.parametrize("drill", ["ball_flip", "hoop_toss_roll", "rope_figure_eight"])
def test_even_take_has_no_slip(drill):
    for seed in range(3):
        take = perform(lay(drill, 16), Who(spread=0.03), np.random.default_rng(seed)).take
        assert follow_hands(take)[1].best.slip is None


def on_tuning(way, drill, cycles, number):
    """A take of the tuning stream, and what is found in it."""
    ((performed, right),) = ways(drill, way, 1, Draw(TUNING, lengths=(cycles,), spreads=SPREADS[:1]), first=number)
    return performed, right, find(performed.take)


@pytest.mark.parametrize(("drill", "number"), [("hoop_hand_rotations", 3), ("clubs_mills_three", 1)])
def test_two_counts_of_even_hands_are_not_one_count_and_a_miss(drill, number):
    performed, _, card = on_tuning("slipped", drill, 8, number)
    first = card.findings[0]
    assert (first.kind, round(first.by_counts)) == ("slipped", performed.fault.counts)
    assert "missed" not in [found.kind for found in card.findings]


def test_who_slipped_was_not_early_all_through():
    performed, right, card = on_tuning("slipped", "clubs_mills_carried", 32, 3)
    assert is_right(card, performed, right)
    assert not {"all_early", "half_cycle_off"} & {found.kind for found in card.findings}


@pytest.mark.parametrize("number", [6, 19, 29])
def test_three_counts_ahead_in_even_steps_are_not_one_behind_and_the_end_missed(number):
    performed, right, card = on_tuning("slipped", "ball_figure_eight", 16, number)
    assert performed.fault.counts == -3
    assert is_right(card, performed, right)
    assert "missed" not in {found.kind for found in card.findings}


def test_an_onset_too_many_beside_what_was_left_out_is_no_slip():
    """A short cycle: a count ahead would leave a moment out whose onset is there."""
    plan = lay("rope_figure_eight", 16)
    fault = Fault("short", cycle=7, by=-0.3 * period_of(plan))
    hypotheses = follow_hands(perform(plan, Who(spread=0.02), np.random.default_rng(1), fault).take)[1]
    assert hypotheses.best.slip is None
