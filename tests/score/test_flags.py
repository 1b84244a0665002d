"""What stands out: the table, the scatter, and the cases that must not be taken for each other."""

import math

import numpy as np
import pytest

from tempo_coach.score.flags import (
    KEPT_TO_SD,
    Table,
    find_broken,
    look_up_thresholds,
    robust_sd,
    share_scatter,
    standing_out,
)


def table(off):
    off = np.asarray(off, dtype=float)
    asked = np.arange(off.size).reshape(off.shape) * 0.5
    observed = asked + off
    ratios = np.append(np.diff(observed[:, 0]) / np.diff(asked[:, 0]), np.nan)
    return Table(observed, asked, ratios)


def test_the_scatter_is_that_of_a_normal_distribution():
    values = np.random.default_rng(1).normal(3, 2, 200_000)
    assert robust_sd(values) == pytest.approx(2, rel=0.01)
    smaller = np.sort(np.random.default_rng(2).normal(0, 1, 400_000) ** 2)[:300_000]
    assert 1 / math.sqrt(smaller.mean()) == pytest.approx(KEPT_TO_SD, abs=0.01)


def test_what_stands_out_does_not_hide_itself():
    values = np.random.default_rng(3).normal(0, 1, 40)
    with_fault = np.concatenate([values, [50, -60, 70]])
    assert robust_sd(with_fault) < 1.35 * robust_sd(values)
    assert with_fault.std() > 10


def test_a_moment_that_scatters_more_is_held_against_its_own_scatter():
    generator = np.random.default_rng(4)
    wide, narrow = generator.normal(0, 4, 60), generator.normal(0, 1, 60)
    one, other = share_scatter([wide, narrow])
    assert one > 2 * other
    assert share_scatter([np.full(3, np.nan)]).tolist() == [0]


def test_a_single_displacement_stands_out_and_a_step_does_not():
    spike = np.zeros(12)
    spike[5] = 1
    assert standing_out(spike)[0].argmax() == 5
    assert standing_out(spike)[0][5] == 1
    step = (np.arange(12) >= 5).astype(float)
    assert np.abs(standing_out(step)[0]).max() == 0


def test_a_missed_moment_does_not_stand_out():
    values = np.zeros(9)
    values[4] = np.nan
    assert standing_out(values)[0].tolist() == [0] * 9


def test_too_few_cycles_show_nothing():
    assert find_broken([table(np.zeros((3, 1)))], allowance=0.025) == []
    assert find_broken([], allowance=0.025) == []


def test_thresholds_fall_with_the_cycles_and_the_stricter_neighbour_is_taken():
    periods = [look_up_thresholds(n, 2, 2).period for n in (8, 12, 24, 48)]
    assert periods == sorted(periods, reverse=True)
    assert look_up_thresholds(30, 2, 2) == look_up_thresholds(24, 2, 2)
    assert look_up_thresholds(24, 5, 1) == look_up_thresholds(24, 6, 1)
    assert look_up_thresholds(5000, 40, 7) == look_up_thresholds(96, 9, 3)


@pytest.mark.parametrize("hands", [1, 2])
def test_what_is_done_exactly_is_not_broken(hands):
    assert find_broken([table(np.zeros((12, 2)))] * hands, allowance=0.025) == []


def test_a_long_cycle_after_which_all_is_later():
    off = np.zeros((16, 2))
    off[6:] = 0.2
    off[5, 1] = 0.1
    (found,) = find_broken([table(off)], allowance=0.025)
    assert (found.row, found.column, found.kind) == (5, None, "long")
    assert found.by == pytest.approx(0.2)


def test_an_early_anchor_is_neither_a_short_nor_a_long_cycle():
    off = np.zeros((16, 2))
    off[6, 0] = -0.15
    (found,) = find_broken([table(off)], allowance=0.025)
    assert (found.row, found.column, found.kind) == (6, 0, "early")
    assert found.by == pytest.approx(-0.15)


def test_what_both_hands_do_at_once_is_seen_in_both():
    off = np.zeros((16, 1))
    off[6] = 0.15
    found = find_broken([table(off), table(off)], allowance=0.025)
    assert [(f.hand, f.row, f.kind) for f in found] == [(0, 6, "late"), (1, 6, "late")]
