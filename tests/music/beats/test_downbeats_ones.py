"""Bars from how likely each beat is a one."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tempo_coach.music.beats.downbeats import find_ones


def sure(positions, *, right=0.9):
    return np.where(np.asarray(positions) == 1, right, 1 - right)


@pytest.mark.parametrize("meter", [2, 3, 4])
@pytest.mark.parametrize("pickup", [0, 1])
def test_bars_of_a_steady_metre_are_found(meter, pickup):
    positions = (np.arange(40) - pickup) % meter + 1
    np.testing.assert_array_equal(find_ones(sure(positions)), positions)


def test_one_missing_and_one_extra_one_change_nothing():
    positions = np.arange(48) % 4 + 1
    likely = sure(positions)
    likely[8], likely[21] = 0.1, 0.9
    np.testing.assert_array_equal(find_ones(likely), positions)


def test_a_bar_that_is_cut_short_slips_once():
    positions = np.concatenate([np.arange(22) % 4, np.arange(24) % 4]) + 1
    np.testing.assert_array_equal(find_ones(sure(positions)) == 1, positions == 1)


def test_a_named_metre_and_a_known_one_decide():
    unknown = np.full(12, 0.3)
    found = find_ones(unknown, meter=3, one=2)
    np.testing.assert_array_equal(found, (np.arange(12) - 2) % 3 + 1)


def test_empty_and_single():
    assert find_ones(np.zeros(0)).shape == (0,)
    assert find_ones(np.array([0.9])).tolist() == [1]


@given(st.lists(st.floats(0, 2), max_size=60), st.sampled_from([None, 2, 3, 4, 6]))
def test_positions_stay_within_the_bar(likely, meter):
    found = find_ones(np.array(likely), meter=meter)
    assert len(found) == len(likely)
    assert ((found >= 1) & (found <= (meter or 4))).all()
