import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tempo_coach.observe.take.key_repeats import find_repeats


def held(at, seconds, *, wait=0.5, every=0.033):
    return [at, *np.arange(at + wait, at + seconds, every)]


@pytest.mark.parametrize(("wait", "every"), [(0.25, 0.033), (0.5, 0.033), (0.66, 0.025), (0.4, 0.09)])
def test_the_repeats_of_a_held_key_are_told_and_its_press_is_kept(wait, every):
    train = held(3.0, 2.0, wait=wait, every=every)
    times = [1.0, 2.0, *train, 6.0, 7.0]
    expected = [False] * 3 + [True] * (len(train) - 1) + [False] * 2
    assert find_repeats(times).tolist() == expected


def test_repeats_that_begin_at_once_keep_their_first_press():
    assert find_repeats([5.0, 5.03, 5.06, 5.09, 5.12]).tolist() == [False, True, True, True, True]


def test_two_held_keys_presses_apart_are_two_trains():
    times = held(1.0, 1.0) + held(4.0, 1.0)
    assert (~find_repeats(times)).sum() == 2


@pytest.mark.parametrize("times", [[], [1.0], [1.0, 1.05], [1.0, 1.05, 1.1], np.arange(80) / 8])
def test_taps_even_eight_a_second_are_no_repeats(times):
    assert not find_repeats(times).any()


@given(st.lists(st.floats(0.12, 3.0), max_size=60))
def test_nothing_slower_than_a_train_is_ever_taken_out(steps):
    assert not find_repeats(np.cumsum(steps)).any()
