"""Bars and eights from how likely each beat begins one."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tempo_coach.music.beats.bar_search import find_eights


def sure(positions, *, right=0.9):
    return np.where(np.asarray(positions) == 1, right, 1 - right)


def number(ones, eights=None, *, rested=(), **known):
    """Number beats whose eights nobody hears, unless they are given."""
    pauses = np.isin(np.arange(len(ones)), rested)
    return find_eights(ones, np.full(len(ones), 0.5) if eights is None else eights, pauses, **known)


@pytest.mark.parametrize("meter", [2, 3, 4])
@pytest.mark.parametrize("pickup", [0, 1])
def test_bars_of_a_steady_metre_are_found(meter, pickup):
    positions = (np.arange(40) - pickup) % meter + 1
    np.testing.assert_array_equal(number(sure(positions)).bar, positions)


def test_one_missing_and_one_extra_one_change_nothing():
    positions = np.arange(48) % 4 + 1
    likely = sure(positions)
    likely[8], likely[21] = 0.1, 0.9
    np.testing.assert_array_equal(number(likely).bar, positions)


def test_a_bar_that_is_cut_short_slips_once():
    positions = np.concatenate([np.arange(22) % 4, np.arange(24) % 4]) + 1
    np.testing.assert_array_equal(number(sure(positions)).bar == 1, positions == 1)


def test_a_named_metre_and_a_known_one_decide():
    unknown = np.full(12, 0.3)
    found = number(unknown, meter=3, one=2).bar
    np.testing.assert_array_equal(found, (np.arange(12) - 2) % 3 + 1)


def test_bars_of_another_level_keep_their_lines_though_a_metre_is_named():
    # from the 24th beat on only every second one is counted: bars of four are heard as bars of two
    positions = np.concatenate([np.arange(24) % 4, np.arange(24) % 2]) + 1
    for meter in (4, None):
        np.testing.assert_array_equal(number(sure(positions, right=0.95), meter=meter).bar == 1, positions == 1)


def test_eights_begin_where_the_whole_piece_says_so_though_single_ones_say_otherwise():
    ones = sure(np.arange(64) % 4 + 1)
    begins = np.where(np.arange(64) % 8 == 4, 0.7, 0.4)
    begins[16], begins[20] = 0.9, 0.1
    assert number(ones, begins).eights == tuple((4 + 8 * k, 8) for k in range(8))


def test_a_bar_left_out_at_a_cut_makes_one_eight_short():
    place = np.concatenate([np.arange(28), np.arange(32)]) % 8
    found = number(sure(place % 4 + 1), np.where(place == 0, 0.85, 0.15))
    assert [length for _, length in found.eights] == [8, 8, 8, 4, 8, 8, 8, 8]


def test_the_count_begins_anew_after_a_pause_where_the_music_does():
    place = np.concatenate([np.arange(22), np.arange(24)]) % 8
    ones, begins = sure(place % 4 + 1, right=0.75), np.where(place == 0, 0.6, 0.4)
    assert (22, 8) in number(ones, begins, rested=[22]).eights


def test_a_change_of_metre_is_followed_and_three_makes_sixes():
    positions = np.concatenate([np.arange(48) % 4, np.arange(48) % 3]) + 1
    found = number(sure(positions))
    np.testing.assert_array_equal(found.bar == 1, positions == 1)
    assert found.eights[-1][1] == 6
    assert found.eights[0][1] == 8


@pytest.mark.parametrize(("meter", "counts"), [(2, 8), (3, 6), (4, 8), (6, 6), (8, 8)])
def test_bars_of_a_named_metre_make_eights_or_sixes(meter, counts):
    found = number(sure(np.arange(48) % meter + 1), meter=meter)
    assert {length for _, length in found.eights} == {counts}


def test_nothing_is_said_of_eights_where_bars_of_five_make_none():
    assert number(sure(np.arange(20) % 5 + 1), meter=5).eights == ()


@pytest.mark.parametrize("meter", [2, 3, 4, 6])
def test_where_no_bar_is_heard_the_named_one_is_counted(meter):
    bar = number(np.full(40, 0.02), np.full(40, 0.02), meter=meter).bar
    assert (np.diff(bar) == np.where(bar[1:] == 1, 1 - meter, 1)).all()


def test_empty_and_single():
    assert number(np.zeros(0)).bar.shape == (0,)
    assert number(np.array([0.9])).bar.tolist() == [1]


@given(st.lists(st.floats(0, 2), max_size=60), st.sampled_from([None, 2, 3, 4, 6]))
def test_positions_stay_within_the_bar_and_eights_leave_no_gap(likely, meter):
    found = number(np.array(likely), np.array(likely) / 2, meter=meter, rested=[3, 9])
    assert len(found.bar) == len(likely)
    assert ((found.bar >= 1) & (found.bar <= max(meter or 4, 4))).all()  # bars that are clearly heard outdo a name
    for (start, length), (after, _) in zip(found.eights, found.eights[1:], strict=False):
        assert start + length == after
        assert 1 <= length <= 8
        assert found.bar[start] == 1
