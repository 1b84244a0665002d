"""Corrections over a stretch: faster and slower, pauses, silence counted through, tapped anew."""

import numpy as np
import pytest

from tempo_coach.music.counts import edit_stretch
from tempo_coach.music.counts.count_map import CountMap
from tempo_coach.music.counts.renumber import modal_length
from tests.music.counted import STEADY, WITH_PAUSE, place
from tests.refused import refused


def test_half_keeps_the_ones_and_double_brings_the_rest_back():
    half = edit_stretch.thin(STEADY, 2)
    np.testing.assert_array_equal(half.beats, STEADY.beats[::2])
    assert half.eights == ((0, 8), (8, 8), (16, 8), (24, 8))
    double = edit_stretch.split(half, 2)
    np.testing.assert_allclose(double.beats, STEADY.beats[:-1])
    assert double.eights == STEADY.eights


def test_half_in_a_stretch_only():
    counts = edit_stretch.thin(STEADY, 2, start=1 + 0.5 * 16, end=1 + 0.5 * 31)
    np.testing.assert_array_equal(
        counts.beats, np.concatenate([STEADY.beats[:16], STEADY.beats[16:32:2], STEADY.beats[32:]])
    )


def test_a_waltz_counted_by_the_bar_becomes_sixes_and_back():
    by_bar = CountMap(np.arange(24) * 1.5)
    sixes = edit_stretch.split(by_bar, 3)
    assert modal_length(sixes) == 6
    np.testing.assert_allclose(np.diff(sixes.beats), 0.5)
    again = edit_stretch.thin(sixes, 3)
    assert modal_length(again) == 8
    np.testing.assert_allclose(again.beats, by_bar.beats)


@pytest.mark.parametrize(("asked", "period"), [(120, 0.5), (60, 1.0), (240, 0.25), (40, 1.5), (58, 1.0)])
def test_a_level_is_reached_and_reaching_it_again_does_nothing(asked, period):
    counts = edit_stretch.set_level(STEADY, asked)
    np.testing.assert_allclose(np.diff(counts.beats), period)
    again = edit_stretch.set_level(counts, asked)
    np.testing.assert_array_equal(again.beats, counts.beats)


def test_doubling_leaves_a_pause_a_pause():
    counts = edit_stretch.split(WITH_PAUSE, 2)
    assert counts.pauses == ((8.0, 10.0),)
    assert not ((counts.beats > 8.0) & (counts.beats < 10.0)).any()
    assert 7.75 in counts.beats


def test_a_pause_drops_what_was_counted_in_it_and_leaves_the_last_count_its_length():
    counts = edit_stretch.pause(STEADY, 1 + 0.5 * 15, 1 + 0.5 * 24)
    assert counts.pauses == ((9.0, 13.0),)
    assert place(counts, 8.5) == (2, 8)
    assert place(counts, 11.0) == (3, 1)  # it stands still where the next count will be
    assert place(counts, 13.0) == (3, 1)
    assert counts.beats.size == 64 - 8
    with refused("no room for a pause"):
        edit_stretch.pause(STEADY, 2, 2.5)
    with refused("later count"):
        edit_stretch.pause(STEADY, 3, 2)


def test_counts_through_silence():
    counts = edit_stretch.count_through(WITH_PAUSE, 9.0, 5)
    np.testing.assert_allclose(counts.beats[15:21], 7.5 + 0.5 * np.arange(6))
    assert counts.pauses == ()
    assert edit_stretch.count_through(WITH_PAUSE, 9.0).beats.size == counts.beats.size
    with refused("do not fit"):
        edit_stretch.count_through(WITH_PAUSE, 9.0, 100)
    with refused("between two counts"):
        edit_stretch.count_through(WITH_PAUSE, 500.0)


def test_a_stretch_tapped_anew_replaces_what_was_there():
    new = 5 + 0.4 * np.arange(6)
    counts = edit_stretch.tap_anew(STEADY, new)
    assert np.isin(new, counts.beats).all()
    outside = STEADY.beats[(STEADY.beats < 4.9) | (STEADY.beats > 7.2)]
    assert np.isin(outside, counts.beats).all()
    assert counts.beats.size == outside.size + 6
    with refused("two or more"):
        edit_stretch.tap_anew(STEADY, [3.0])
