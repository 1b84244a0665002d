"""Music with a click on every count: where each click is, and that nothing else moves."""

import numpy as np
import pytest

from tempo_coach.live.mixing.clicks import LISTENING, mix_clicks
from tempo_coach.live.mixing.mix import TAIL
from tempo_coach.music.counts.count_map import CountMap
from tempo_coach.music.files.sound import Sound

RATE_HZ = 8000
COUNTS = CountMap(0.25 + 0.5 * np.arange(40))


def click_places(sound):
    """Seconds at which something begins in a sound that is silent but for clicks."""
    loud = np.abs(sound.samples).max(axis=1) > 1e-4
    starts = np.flatnonzero(loud)
    return starts[np.concatenate([[True], np.diff(starts) > RATE_HZ // 5])] / RATE_HZ


@pytest.mark.parametrize("start", [0.0, 3.1, 10.25])
def test_every_count_has_a_click_from_where_it_begins(start):
    silence = Sound(np.zeros((RATE_HZ * 21, 2)), RATE_HZ)
    mixed = mix_clicks(silence, COUNTS, start)
    expected = COUNTS.beats[COUNTS.beats >= start] - start
    np.testing.assert_allclose(click_places(mixed), expected, atol=0.002)
    assert mixed.duration == pytest.approx(21 - start + TAIL, abs=1e-3)


def test_ones_sound_another_way():
    silence = Sound(np.zeros((RATE_HZ * 21, 1)), RATE_HZ)
    mixed = mix_clicks(silence, COUNTS, 0.0).samples[:, 0]
    pitch = []
    for beat in COUNTS.beats[:9]:
        part = mixed[round(beat * RATE_HZ) : round((beat + 0.05) * RATE_HZ)]
        pitch.append(int(np.abs(np.fft.rfft(part, 4096)).argmax()))
    assert pitch[0] == pitch[8] and pitch[0] != pitch[1] and len(set(pitch[1:8])) == 1


def test_without_clicks_the_music_is_as_it_was_from_that_place_on():
    noise = np.random.default_rng(2).uniform(-0.5, 0.5, (RATE_HZ * 20, 2))
    mixed = mix_clicks(Sound(noise, RATE_HZ), COUNTS, 4.0, clicks=False)
    np.testing.assert_allclose(mixed.samples[: RATE_HZ * 10], noise[RATE_HZ * 4 : RATE_HZ * 14], atol=1e-6)


def test_a_long_piece_is_not_made_ready_whole():
    long = Sound(np.zeros((RATE_HZ * 400, 1)), RATE_HZ)
    assert mix_clicks(long, COUNTS, 10.0).duration == pytest.approx(LISTENING + TAIL)
