"""Beats placed finer than a frame."""

import numpy as np
import pytest

from tempo_coach.music.beats.evidence import SEARCH_WITHIN, place_beats
from tempo_coach.music.beats.features import FINE_HZ


def rise_at(*times, seconds=4.0):
    """A parabola of five points around each time, whose top is exactly there."""
    curve = np.zeros(int(seconds * FINE_HZ))
    for time in times:
        around = np.arange(round(time * FINE_HZ) - 2, round(time * FINE_HZ) + 3)
        curve[around] = 1 - ((around - time * FINE_HZ) / 4) ** 2
    return curve.astype(np.float32)


@pytest.mark.parametrize("off", [-0.03, -0.004, 0.0, 0.01, 0.03])
def test_a_beat_goes_to_the_onset_near_it(off):
    times = np.array([1.0007, 2.0])
    placed, clarity = place_beats(times + off, rise_at(*times))
    # on a top so flat what lies nearer is preferred, by half a point at most
    np.testing.assert_allclose(placed, times, atol=2e-5 if off == 0 else 0.51 / FINE_HZ)
    assert (clarity > 0.9).all()


def test_where_nothing_begins_a_beat_stays_where_it_was_decoded():
    decoded = np.array([1.0 + SEARCH_WITHIN + 0.02, 3.0])
    placed, clarity = place_beats(decoded, rise_at(1.0))
    np.testing.assert_array_equal(placed, decoded)
    assert (clarity == 0).all()
    placed, clarity = place_beats(decoded, np.zeros(2000, np.float32))
    np.testing.assert_array_equal(placed, decoded)
    assert (clarity == 0).all()


def test_of_two_onsets_alike_the_nearer_one_counts():
    placed, _ = place_beats(np.array([1.01]), rise_at(1.0, 1.035))
    assert placed[0] == pytest.approx(1.0, abs=1e-3)


def test_no_beats_and_beats_at_the_very_ends():
    assert place_beats(np.zeros(0), rise_at(1.0))[0].shape == (0,)
    curve = rise_at(1.0)
    ends = np.array([0.0, len(curve) / FINE_HZ])
    np.testing.assert_array_equal(place_beats(ends, curve)[0], ends)
