"""Samples and their rate: checked, never changed, and nothing moved in time at another rate."""

import numpy as np
import pytest

from tempo_coach.music.files.sound import BLOCK, Sound, choose_uncancelled, let_go, mix_down, resample, stretches

RATE_HZ = 22_050


def test_a_sound_cannot_change_under_anyones_hands():
    seconds = np.arange(2 * RATE_HZ) / RATE_HZ
    hum = Sound(0.5 * np.stack([np.sin(440 * seconds), np.cos(300 * seconds)], axis=1), RATE_HZ)
    with pytest.raises(ValueError, match="read-only"):
        hum.samples[0, 0] = 1
    with pytest.raises(ValueError, match="read-only"):
        hum.mono()[0] = 1
    assert hum.duration == 2
    assert hum.channels == 2
    assert np.allclose(hum.mono(), hum.samples.mean(axis=1), atol=1e-7)


@pytest.mark.parametrize("samples", [np.zeros(10), np.full((3, 1), np.nan), np.zeros((3, 0))])
def test_a_sound_of_a_wrong_shape_or_of_no_numbers_is_refused(samples):
    with pytest.raises(ValueError, match="samples"):
        Sound(samples, RATE_HZ)


@pytest.mark.parametrize("rate_hz", [0, 3999, 768_001])
def test_a_rate_that_no_music_has_is_refused(rate_hz):
    with pytest.raises(ValueError, match="rate_hz: expected 4000 to 768000"):
        Sound(np.zeros((10, 1)), rate_hz)


@pytest.mark.parametrize("rate_hz", [8000, 44_100, 48_000, 192_000])
def test_resampling_moves_nothing_in_time(rate_hz):
    # A Gaussian bump has its centre of mass where it was put, at any rate: exact.
    centre = 0.4321
    bump = np.exp(-0.5 * ((np.arange(RATE_HZ) / RATE_HZ - centre) / 0.004) ** 2)
    other = resample(Sound(bump[:, None], RATE_HZ), rate_hz)
    weights = other.samples[:, 0].astype(float)
    found = (weights * np.arange(len(weights))).sum() / weights.sum() / rate_hz
    assert abs(found - centre) < 1e-5
    assert abs(other.duration - 1) <= 1 / rate_hz


def test_at_its_own_rate_a_sound_stays_itself():
    sound = Sound(np.zeros((10, 1)), RATE_HZ)
    assert resample(sound, RATE_HZ) is sound


@pytest.mark.parametrize(
    ("left", "right", "heard"),
    [(1, 1, [0, 1]), (1, 0, [0, 1]), (0.5, -1, [1]), (1, -0.5, [0])],
    ids=["alike", "one silent", "one the wrong way round", "the other"],
)
def test_channels_that_cancel_each_other_are_heard_one_alone(left, right, heard):
    noise = np.random.default_rng(0).normal(0, 0.1, (3, RATE_HZ))
    sound = Sound(np.stack([left * noise[0] + 0.3 * noise[1], right * noise[0] + 0.3 * noise[2]], axis=1), RATE_HZ)
    np.testing.assert_array_equal(choose_uncancelled(sound).samples, sound.samples[:, heard])


@pytest.mark.parametrize("channels", [1, 2, 3])
def test_channels_are_mixed_to_their_mean(channels):
    noise = np.random.default_rng(0).normal(0, 0.1, (BLOCK + 5, channels)).astype(np.float32)
    np.testing.assert_array_equal(mix_down(noise), noise.mean(axis=1, dtype=np.float32))


def test_what_is_let_go_is_there_when_it_is_asked_for_again(tmp_path):
    noise = np.random.default_rng(0).normal(0, 0.1, (70_000, 2)).astype(np.float32)
    path = tmp_path / "samples"
    path.write_bytes(noise.tobytes())
    mapped = np.memmap(path, np.float32, "r", shape=noise.shape)
    blocks = list(stretches(mapped, 30_000))
    let_go(mapped[5:])
    np.testing.assert_array_equal(np.concatenate(blocks), noise)
    assert [len(block) for block in blocks] == [30_000, 30_000, 10_000]
    let_go(noise)  # which is nowhere else
    assert noise.any()
