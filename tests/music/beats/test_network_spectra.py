"""What the network is shown: bands where tones are, a level that does not matter, silence around the music."""

import numpy as np
import pytest

from tempo_coach.music.beats.features import HEARD_HZ, HOP
from tempo_coach.music.beats.network import BANDS_HZ, find_scale, show, to_mono


def tone(hz, seconds=1.0, rate_hz=HEARD_HZ):
    return np.sin(2 * np.pi * hz * np.arange(int(seconds * rate_hz)) / rate_hz).astype(np.float32)


def test_bands_are_a_semitone_apart_and_never_narrower_than_a_bin():
    # equal temperament: a semitone is a twelfth root of two; 440 Hz is a1 (ISO 16)
    assert (BANDS_HZ[0], BANDS_HZ[-1]) == pytest.approx((30, 10_000), rel=0.1)
    assert np.diff(BANDS_HZ).min() >= HEARD_HZ / 2048 - 1e-9
    high = BANDS_HZ[BANDS_HZ > 2000]
    assert high[1:] / high[:-1] == pytest.approx(2 ** (1 / 12), rel=0.01)
    assert np.abs(BANDS_HZ - 440).min() < HEARD_HZ / 2048 / 2


@pytest.mark.parametrize("hz", [110, 440, 3520])
def test_a_tone_is_loudest_in_its_own_band(hz):
    shown = show(tone(hz), 1.0, 20, 80)
    assert shown.shape == (60, len(BANDS_HZ), 2)
    assert np.abs(BANDS_HZ[shown[..., 0].argmax(axis=1)] - hz).max() <= HEARD_HZ / 2048


def test_a_click_is_shown_at_its_frame_and_nothing_around_the_music():
    mono = np.zeros(HEARD_HZ, np.float32)
    mono[50 * HOP] = 1.0
    for channel in (0, 1):
        loud = show(mono, 1.0, 0, 100)[..., channel].mean(axis=1)
        assert loud.argmax() == 50
    assert not show(mono, 1.0, 120, 130).any()  # behind its end


def test_a_part_of_the_music_is_shown_as_the_whole_shows_it():
    mono = np.random.default_rng(0).normal(0, 0.1, 3 * HEARD_HZ).astype(np.float32)
    whole = show(mono, 1.0, 0, 300)
    skipped = 100 * HOP
    np.testing.assert_allclose(show(mono[skipped:], 1.0, 150, 200, skipped=skipped), whole[150:200], atol=1e-6)


@pytest.mark.parametrize("level", [1e-3, 0.1, 1.0])
def test_loud_stretches_come_to_one_level(level):
    samples = level * np.concatenate([tone(440, 4.0), np.zeros(HEARD_HZ)])
    assert find_scale(samples) * level / np.sqrt(2) == pytest.approx(0.1, rel=0.01)


def test_silence_is_left_as_it_is_and_what_is_no_number_refused():
    assert find_scale(np.zeros(HEARD_HZ)) == 1
    with pytest.raises(ValueError, match="finite"):
        find_scale(np.array([0.0, np.nan]))


@pytest.mark.parametrize("rate_hz", [8000, 44_100, 192_000])
def test_any_rate_becomes_the_rate_that_is_heard_and_nothing_moves(rate_hz):
    samples = np.zeros(rate_hz)
    samples[round(0.4 * rate_hz)] = 1.0
    mono = to_mono(np.stack([samples, samples], axis=1), rate_hz)
    assert mono.dtype == np.float32
    assert len(mono) == HEARD_HZ
    assert np.abs(mono).argmax() / HEARD_HZ == pytest.approx(0.4, abs=1 / rate_hz + 1 / HEARD_HZ)
