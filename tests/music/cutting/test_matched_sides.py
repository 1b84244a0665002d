"""Two sides of a joint set against each other: swells without an attack, in one rhythm and in none."""

import numpy as np
import pytest

from tempo_coach.music.counts.count_map import CountMap
from tempo_coach.music.cutting.joints import KeptSpan, join
from tempo_coach.music.cutting.matched_sides import match_sides
from tempo_coach.music.files.sound import Sound

RATE = 22_050
BEAT = 0.5


def swells(beats: np.ndarray, seconds: float, *, rise: float = 0.12) -> Sound:
    """Tones that swell in over a good tenth of a second on every beat, as bowed strings do (common practice)."""
    time = np.arange(round(seconds * RATE)) / RATE
    samples = np.zeros_like(time)
    for k, beat in enumerate(beats):
        since = time - beat
        grown = np.clip(since / rise, 0, 1) * np.exp(-np.clip(since - rise, 0, None) / 0.3) * (since > 0)
        samples += grown * (1.0 if k % 4 == 0 else 0.6) * np.sin(2 * np.pi * (220, 262, 330, 294)[k % 4] * time)
    return Sound(0.1 * samples[:, np.newaxis], RATE)


@pytest.mark.parametrize("late", [-0.031, 0.0, 0.0123, 0.04])
def test_the_lag_of_two_sides_of_one_rhythm_is_found_without_an_attack(late):
    beats = 1.0 + BEAT * np.arange(40)
    beats[20:] += late
    sound = swells(beats, 23.0)
    match = match_sides(sound, 1.0 + 12 * BEAT, 1.0 + 28 * BEAT)
    assert match.lag == pytest.approx(late, abs=0.003) and match.at(match.lag) > 0.9


def test_noise_silence_and_the_ends_of_the_music_say_nothing():
    noise = Sound(np.random.default_rng(0).normal(0, 0.1, (12 * RATE, 2)), RATE)
    match = match_sides(noise, 4.0, 8.0)
    assert abs(match.at(match.lag)) < 0.5
    silent = match_sides(Sound(np.zeros((12 * RATE, 1)), RATE), 4.0, 8.0)
    assert silent.lag == 0.0 and not silent.correlations.any()
    match_sides(noise, 0.0, 12.0)


def test_a_joint_of_swells_goes_on_in_the_beat_though_its_counts_are_wrong():
    beats = 1.0 + BEAT * np.arange(48)
    wrong = np.where(np.arange(48) % 3 == 0, 0.02, -0.02)
    pieces, _ = join(swells(beats, 26.0), CountMap(beats + wrong), [KeptSpan(4, 12), KeptSpan(24, 32)])
    goes_on = (pieces[1].start - beats[24]) - (pieces[0].end - beats[12])
    assert abs(goes_on) < 0.005
