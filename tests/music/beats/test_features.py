"""What is heard of sounds that are known: clicks where they are, tones by their name, no seam between blocks."""

import numpy as np
import pytest

from tempo_coach.music.beats.features import FINE_HZ, FRAME_HZ, HEARD_HZ, hear
from tempo_coach.music.files.sound import Sound

RATE_HZ = HEARD_HZ


def tone(hz, seconds, rate_hz=RATE_HZ):
    return 0.3 * np.sin(2 * np.pi * hz * np.arange(int(seconds * rate_hz)) / rate_hz)


def click_at(times, seconds, rate_hz=RATE_HZ):
    samples = np.zeros(int(seconds * rate_hz))
    decay = np.arange(int(0.02 * rate_hz)) / rate_hz
    for time in times:
        start = round(time * rate_hz)
        samples[start : start + len(decay)] += np.exp(-decay / 0.005) * np.sin(2 * np.pi * 1000 * decay)
    return samples


@pytest.mark.parametrize("rate_hz", [RATE_HZ, 48_000])
def test_each_click_is_heard_where_it_is_also_at_the_seam_of_two_blocks(rate_hz):
    times = np.array([1.0, 20.5, 43.99, 44.0 + 0.25, 46.0])  # a block is 44 s
    heard = hear(Sound(click_at(times, 48.0, rate_hz)[:, None], rate_hz))
    for time in times:
        frame, point = round(time * FRAME_HZ), round(time * FINE_HZ)
        around = heard.onset[frame - 15 : frame + 16, 1]
        assert abs(int(around.argmax()) - 15) <= 1
        fine = heard.fine[point - 30 : point + 31]
        assert abs(int(fine.argmax()) - 30) <= 3
    peaks = np.array([heard.fine[round(time * FINE_HZ) - 8 : round(time * FINE_HZ) + 9].max() for time in times])
    assert peaks == pytest.approx(peaks[0], rel=0.1)


@pytest.mark.parametrize(("hz", "name"), [(440.0, 9), (261.63, 0), (220.0, 9), (659.26, 4)])
def test_a_tone_is_heard_by_its_name_in_every_octave(hz, name):
    # equal temperament about 440 Hz (ISO 16): c' 261.63, e'' 659.26
    tones = hear(Sound(tone(hz, 4.0)[:, None], RATE_HZ)).tones
    assert (tones[2:-3].argmax(axis=1) == name).all()


@pytest.mark.parametrize("seconds", [0.0, 0.01, 1.0, 43.9, 45.3])
def test_curves_are_as_long_as_the_sound(seconds):
    done = []
    heard = hear(Sound(np.zeros((round(seconds * 8000), 2)), 8000), progress=done.append)
    frames = int(seconds * FRAME_HZ) + 1
    assert heard.onset.shape == (frames, 3)
    assert heard.swell.shape == (frames,)
    assert heard.fine.shape == (int(seconds * FINE_HZ) + 1,)
    assert heard.tones.shape == (frames // 10 + 1, 12)
    assert not heard.onset.any() and not heard.fine.any()
    assert done[-1] == 1 and done == sorted(done)


def test_the_level_does_not_matter():
    samples = click_at([1.0, 2.0], 3.0)[:, None]
    loud, soft = hear(Sound(samples, RATE_HZ)), hear(Sound(samples * 0.01, RATE_HZ))
    np.testing.assert_allclose(loud.onset, soft.onset, atol=1e-3)


def test_a_low_thump_is_a_low_onset_and_a_hiss_a_high_one():
    seconds = np.arange(int(0.2 * RATE_HZ)) / RATE_HZ
    samples = np.zeros(3 * RATE_HZ)
    samples[RATE_HZ : RATE_HZ + len(seconds)] = np.sin(2 * np.pi * 60 * seconds) * np.exp(-seconds / 0.05)
    hiss = np.diff(np.random.default_rng(0).normal(size=len(seconds) + 1), 1) * np.exp(-seconds / 0.02)
    samples[2 * RATE_HZ : 2 * RATE_HZ + len(seconds)] = 0.3 * hiss
    onset = hear(Sound(samples[:, None], RATE_HZ)).onset
    thump, high = (onset[round(at * FRAME_HZ) - 3 : round(at * FRAME_HZ) + 4].max(axis=0) for at in (1.0, 2.0))
    assert thump.argmax() == 0
    assert high.argmax() == 2
