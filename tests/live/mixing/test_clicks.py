"""Music with a click on every count: where each click is, and that nothing else moves."""

import numpy as np
import pytest

from tempo_coach.live.mixing.clicks import LISTENING, mix_clicks, mix_spoken
from tempo_coach.live.mixing.mix import TAIL
from tempo_coach.live.mixing.spoken import Word
from tempo_coach.music.counts.count_map import CountMap
from tempo_coach.music.files.sound import Sound
from tempo_coach.pattern.plan.cues import NUMBERS

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


def impulse(at, length):
    samples = np.zeros((length, 1))
    samples[at] = 1.0
    return Word(Sound(samples, RATE_HZ), at)


def test_counts_are_spoken_on_their_samples_and_a_remark_takes_the_place_of_those_under_it():
    silence = Sound(np.zeros((RATE_HZ * 130, 2)), RATE_HZ)
    counts = CountMap(np.concatenate([0.25 + 0.5 * np.arange(16), 8.25 + 0.2 * np.arange(500)]))
    words = {name: impulse(100, 1500) for name in NUMBERS} | {"chin up": impulse(50, round(1.2 * RATE_HZ))}
    mixed = mix_spoken(silence, counts, words, remarks=[(4.25, "chin up")])
    places = np.flatnonzero(np.abs(mixed.samples).max(axis=1) > 1e-4) / RATE_HZ
    slow = counts.beats[:16].tolist()
    # the remark of 1.2 s begins on the second count 1 and takes 2 and 3 with it; too quick for all, the odd are said
    expected = [*slow[:9], *slow[11:], *counts.beats[16::2].tolist()]
    np.testing.assert_allclose(places, expected, atol=1 / RATE_HZ)
