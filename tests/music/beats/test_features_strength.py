"""How much begins, in spreads above what is usual around."""

import numpy as np
import pytest

from tempo_coach.music.beats.features import Features, beat_strength, moving_mean


def heard(onset):
    """Features in which each band and the swell grow alike."""
    curve = np.asarray(onset, np.float32)
    return Features(np.stack([curve] * 3, axis=1), curve, curve, np.zeros((len(curve) // 10 + 1, 12)), 1.0)


def clicks(length, every, height=1.0):
    curve = np.random.default_rng(1).uniform(0, 0.05, length)
    curve[::every] += height
    return curve


def test_onsets_stand_out_alike_in_loud_and_in_soft_stretches():
    strength = beat_strength(heard(np.concatenate([clicks(2000, 50), clicks(2000, 50, 0.3) * 0.5])))
    loud, soft = strength[500:1500:50], strength[2500:3500:50]
    assert loud.min() > 2 and soft.min() > 2
    assert np.median(soft) == pytest.approx(np.median(loud), rel=0.25)


def test_it_is_bounded_and_one_crash_does_not_outweigh_a_bar():
    curve = clicks(2000, 50)
    curve[1000] = 1000.0
    strength = beat_strength(heard(curve))
    assert strength.max() <= 7 and strength.min() >= -1
    assert strength.dtype == np.float32


def test_the_level_of_the_music_does_not_matter_and_silence_is_nothing():
    curve = clicks(1000, 40)
    np.testing.assert_allclose(beat_strength(heard(curve)), beat_strength(heard(curve * 20)), atol=1e-3)
    assert not beat_strength(heard(np.zeros(500))).any()


@pytest.mark.parametrize("width", [1, 5, 1000])
def test_the_moving_mean_is_that_of_the_values_around(width):
    curve = np.random.default_rng(2).normal(size=40).astype(np.float32)
    by_hand = [curve[max(k - width // 2, 0) : k + width // 2 + 1].mean() for k in range(40)]
    np.testing.assert_allclose(moving_mean(curve, width), by_hand, atol=1e-6)
