"""Samples of a cut list: as many as asked, as loud as asked, the same each time."""

import numpy as np
import pytest

from tempo_coach.music.cutting.cut_list import TONE_S, CutList, CutPiece
from tempo_coach.music.cutting.ending import find_ending
from tempo_coach.music.cutting.render import render
from tempo_coach.music.files.sound import Sound
from tests.generators.workplace import invented_music
from tests.ui.cut_music import compose

RATE_HZ = 8000
NOISE = Sound(0.1 * np.random.default_rng(1).normal(size=(20 * RATE_HZ, 2)), RATE_HZ)
CUT = CutList(
    (CutPiece(2.0, 5.0), CutPiece(11.3, 14.0), CutPiece(1.0, 3.0)), silence=0.5, tone=True, fade=1.0, gain_db=-6.0
)


def test_length_and_samples_are_exact_and_the_same_again():
    made = render(NOISE, CUT)
    assert abs(len(made.samples) - CUT.duration * RATE_HZ) <= 1
    assert np.array_equal(made.samples, render(NOISE, CUT).samples)
    inside = slice(round((CUT.begin + 0.5) * RATE_HZ), round((CUT.begin + 2.5) * RATE_HZ))
    was = NOISE.samples[round(2.5 * RATE_HZ) : round(4.5 * RATE_HZ)]
    assert made.samples[inside] == pytest.approx(was * 10 ** (-6 / 20), abs=1e-6)


def test_tone_silence_and_fade_are_where_they_are_asked():
    made = render(NOISE, CUT).samples
    tone, silence = round(TONE_S * RATE_HZ), round(0.5 * RATE_HZ)
    assert np.abs(made[:tone]).max() == pytest.approx(10 ** (-18 / 20), abs=0.01)
    assert not made[tone : tone + silence].any()
    assert np.abs(made[-50:]).max() < 0.01


def test_a_crossfade_keeps_the_level():
    """Noise joined with noise: no dip and no bump of power beyond chance."""
    cut = CutList(tuple(CutPiece(a, a + 0.4) for a in np.linspace(0.5, 18, 40)))
    made = render(NOISE, cut).samples
    around = [round(at * RATE_HZ) for at in cut.starts[1:-1]]
    power = np.mean([np.mean(made[at - 200 : at - 40] ** 2) for at in around])
    assert power == pytest.approx(0.01, rel=0.05)


def test_the_last_accent_is_the_last_that_is_as_loud_as_the_others():
    demo = invented_music()
    from tempo_coach.music.counts.count_map import CountMap

    found = find_ending(demo.sound, CountMap(demo.beats))
    assert found is not None and np.abs(demo.beats[-4:] - found.start).min() < 0.02
    samples = np.array(compose().sound.samples)
    samples *= np.linspace(1, 0, len(samples))[:, None] ** 4
    assert find_ending(Sound(samples, compose().sound.rate_hz), compose().counts) is None
