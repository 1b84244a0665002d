"""How long the beat may last: the comb on rows of onsets whose interval is known, and what is preferred beforehand."""

import numpy as np
import pytest

from tempo_coach.music.beats.features import FRAME_HZ
from tempo_coach.music.beats.tempo import (
    HINT_WITHIN,
    INTERVALS,
    LOOK_EVERY,
    SHORTEST,
    look_for_tempo,
    make_tempo_prior,
    rest_on_hint,
)


def row(interval, length=3030, start=30):
    values = np.full(length, -0.3, dtype=np.float32)
    values[start:length:interval] = 4
    return values


@pytest.mark.parametrize("interval", [30, 48, 60, 75])
def test_the_comb_prefers_the_interval_of_the_onsets(interval):
    looks = look_for_tempo(row(interval))
    assert looks.shape == (3030 // LOOK_EVERY + 1, len(INTERVALS))
    assert INTERVALS[looks[10:50].mean(axis=0).argmax()] == interval


def test_two_and_three_beats_taken_for_one_explain_the_onsets_less_well():
    mean = look_for_tempo(row(40))[10:50].mean(axis=0)
    beat, two, three = mean[np.array([40, 80, 120]) - SHORTEST]
    assert two < 0.8 * beat
    assert three < 0.8 * beat


def test_each_look_tells_of_its_own_stretch():
    looks = look_for_tempo(np.concatenate([row(40, 3000), row(55, 3000)]))
    assert INTERVALS[looks[10:50].mean(axis=0).argmax()] == 40
    assert INTERVALS[looks[70:110].mean(axis=0).argmax()] == 55


def test_silence_prefers_nothing():
    assert np.ptp(look_for_tempo(np.zeros(1000, np.float32))) == 0


def test_within_a_hint_every_tempo_is_as_good_and_beyond_it_falls_off():
    preferred = make_tempo_prior(120.0, prior_bpm=80.0, octaves=1.0)
    octaves = np.abs(np.log2(60 * FRAME_HZ / INTERVALS / 120))
    assert (preferred[octaves <= HINT_WITHIN] == 0).all()
    assert (preferred[octaves > HINT_WITHIN] < 0).all()
    half = np.abs(INTERVALS - 60 * FRAME_HZ / 60).argmin()
    assert preferred[half] < -20  # half the tempo is as good as ruled out


def test_without_a_hint_the_usual_tempo_is_preferred_by_octaves():
    preferred = make_tempo_prior(None, prior_bpm=100.0, octaves=0.5)
    assert INTERVALS[preferred.argmax()] == pytest.approx(60 * FRAME_HZ / 100, abs=0.5)
    fast, slow = (preferred[np.abs(INTERVALS - 60 * FRAME_HZ / bpm).argmin()] for bpm in (100 * 2**0.5, 100 / 2**0.5))
    assert fast == pytest.approx(-0.5, abs=0.05)  # one SD away: half
    assert slow == pytest.approx(-0.5, abs=0.05)


def test_the_best_interval_near_a_hint_has_nothing_against_it():
    tempo = np.linspace(-9, -3, len(INTERVALS), dtype=np.float32)[None].repeat(3, axis=0)
    tempo[1] = 0.5  # evidence for a tempo is left as it is
    raised = rest_on_hint(tempo, 120)
    near = np.abs(np.log2(60 * FRAME_HZ / INTERVALS / 120)) <= HINT_WITHIN
    np.testing.assert_allclose(raised[:, near].max(axis=1), [0, 0.5, 0])
    np.testing.assert_allclose(np.diff(raised[0]), np.diff(tempo[0]), atol=1e-6)
