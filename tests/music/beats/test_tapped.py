"""A stretch tapped anew: taps 25 ms early and uneven become the beats of the music."""

import numpy as np
import pytest

from tempo_coach.music.beats.tapped import place_taps
from tests.generators.workplace import invented_music
from tests.refused import refused


@pytest.fixture(scope="module")
def invented():
    return invented_music()


def test_a_stretch_is_put_on_the_music_and_its_pause_stays_a_pause(invented):
    meant = invented.beats[36:64]
    # taps lead by several tens of ms (Aschersleben 2002, abstract); SD 35 ms
    taps = meant - 0.025 + np.random.default_rng(4).normal(0, 0.035, meant.size)
    tapped = place_taps(invented.sound, taps)
    assert tapped.times.size == meant.size
    assert np.median(np.abs(tapped.times - meant)) < 0.008
    ((before, after),) = tapped.pauses
    assert before == pytest.approx(invented.beats[47], abs=0.05)
    assert after == pytest.approx(invented.beats[48], abs=0.05)


def test_too_few_taps_are_refused(invented):
    with refused("at least 4 taps"):
        place_taps(invented.sound, [3.0, 3.5])
    with refused("at least 4 taps"):
        place_taps(invented.sound, [])
