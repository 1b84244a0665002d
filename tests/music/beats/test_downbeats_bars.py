"""Bars from how much beats stand out, and the search for the best row of positions in the bar."""

from itertools import pairwise, product

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tempo_coach.music.beats.downbeats import (
    find_bars,
    follow_bars,
    one_strength,
    tone_changes,
    weigh_harmony,
)
from tempo_coach.music.beats.features import FRAME_HZ, Features


def standing_out(positions, *, by=1.0):
    """Strengths, mean 0, of beats whose ones stand out."""
    strength = np.where(np.asarray(positions) == 1, by, 0.0)
    return strength - strength.mean()


@pytest.mark.parametrize("meter", [3, 4])
@pytest.mark.parametrize("pickup", [0, 1, 2])
def test_bars_of_a_steady_metre_are_found(meter, pickup):
    positions = (np.arange(40) - pickup) % meter + 1
    np.testing.assert_array_equal(find_bars(standing_out(positions)), positions)


def test_one_missing_and_one_extra_one_change_nothing():
    positions = np.arange(48) % 4 + 1
    strength = standing_out(positions)
    strength[8], strength[21] = strength[9], strength[4]
    np.testing.assert_array_equal(find_bars(strength), positions)


def test_a_named_metre_and_a_known_one_decide():
    np.testing.assert_array_equal(find_bars(np.zeros(12), meter=5, one=2), (np.arange(12) - 2) % 5 + 1)


def test_empty_and_single():
    assert find_bars(np.zeros(0)).shape == (0,)
    assert find_bars(np.array([1.0])).tolist() == [1]


@given(st.integers(1, 5), st.integers(2, 3), st.floats(0, 3), st.integers(0, 2**32 - 1))
def test_the_best_row_is_the_best_of_all_rows(beats, meter, penalty, seed):
    scores = np.random.default_rng(seed).normal(size=(beats, meter))

    def worth(row):
        slips = sum(after != (before + 1) % meter for before, after in pairwise(row))
        return sum(scores[k, at] for k, at in enumerate(row)) - penalty * slips

    total, positions = follow_bars(scores, one=None, penalty=penalty)
    assert total == pytest.approx(max(worth(row) for row in product(range(meter), repeat=beats)))
    assert worth(positions - 1) == pytest.approx(total)


def test_a_known_one_holds_whatever_it_costs_and_what_was_passed_is_left_as_it_is():
    scores = np.tile([0.0, 5.0, 5.0], (4, 1))
    assert follow_bars(scores, one=2, penalty=100.0)[1].tolist() == [2, 3, 1, 2]
    assert (scores == np.tile([0.0, 5.0, 5.0], (4, 1))).all()


def test_beats_where_low_tones_begin_and_the_harmony_changes_stand_out():
    beats = 0.5 + 0.5 * np.arange(16)
    frames = round(9 * FRAME_HZ)
    onset, swell = np.zeros((frames, 3), np.float32), np.zeros(frames, np.float32)
    tones = np.zeros((frames // 10 + 1, 12), np.float32)
    onset[np.round(beats * FRAME_HZ).astype(int), 2] = 1
    for number, one in enumerate(beats[::4]):
        onset[round(one * FRAME_HZ), 0] = 1
        tones[round(one * FRAME_HZ / 10) :] = 0
        tones[round(one * FRAME_HZ / 10) :, number % 12] = 1
    strength = one_strength(beats, Features(onset, swell, swell, tones, 9.0))
    assert strength.mean() == pytest.approx(0, abs=0.05)
    assert strength[::4].min() > np.delete(strength, np.s_[::4]).max()


def harmonies(beats, every, *, first=0, tones_hz=10.0):
    """Chroma that goes to another semitone on every so many beats."""
    tones = np.tile(np.eye(12, dtype=np.float32)[11], (round((beats[-1] + 1) * tones_hz), 1))
    for number, one in enumerate(beats[first::every]):
        tones[round(one * tones_hz) :] = np.eye(12, dtype=np.float32)[number % 12]
    return tones


def test_harmony_decides_where_bars_begin_when_nothing_else_does():
    beats = 0.5 + 0.6 * np.arange(40)
    likely = weigh_harmony(np.full(40, 0.3), beats, harmonies(beats, 4, first=2), 10.0)
    assert (likely[2:38].reshape(9, 4).argmax(axis=1) == 0).all()
    assert ((likely > 0) & (likely < 1)).all()


def test_harmony_leaves_what_is_heard_clearly_and_what_never_changes():
    beats = 0.5 + 0.6 * np.arange(40)
    clear = np.where(np.arange(40) % 4 == 0, 0.95, 0.02)
    moved = weigh_harmony(clear, beats, harmonies(beats, 4, first=1), 10.0)
    assert set(np.flatnonzero(moved > 0.5)) == set(range(0, 40, 4))
    np.testing.assert_allclose(weigh_harmony(clear, beats, np.ones((300, 12)), 10.0), clear, atol=0.01)


@pytest.mark.parametrize("beats", [0, 1, 2])
def test_a_few_beats_have_no_change(beats):
    assert tone_changes(0.5 * np.arange(beats), np.ones((9, 12)), 10.0, span=4) == pytest.approx(
        [0.0] * beats, abs=1e-9
    )
