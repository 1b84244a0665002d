"""Where beats are hard to hear, from what is heard on and beside them."""

import numpy as np
import pytest

from tempo_coach.music.beats.features import FRAME_HZ
from tempo_coach.music.beats.network import TEMPI, Activations
from tempo_coach.music.beats.unsure import find_unsure

BPM = 120
TIMES = 0.5 + 60 / BPM * np.arange(80)


def heard(*parts, beats=slice(None), tempo=True):
    """What a network hears that is sure of these beats, and beside some of them of others at parts of each."""
    curve = np.zeros(round((TIMES[-1] + 2) * FRAME_HZ), np.float32)
    curve[np.round(TIMES * FRAME_HZ).astype(int)] = 0.9
    for part in parts:
        curve[np.round((TIMES[beats] + part * 60 / BPM) * FRAME_HZ).astype(int)] = 0.7
    likely = np.abs(np.log(TEMPI / BPM)) < 0.015 if tempo else np.ones(len(TEMPI))
    return Activations(curve, curve * 0, curve * 0, np.tile(likely / likely.sum(), (len(curve), 1)))


def unsure(confidence, known, *, other_level=False):
    return find_unsure(TIMES, np.asarray(confidence), known, other_level=other_level)


def test_sure_beats_are_sure_and_one_weak_one_makes_no_stretch():
    confidence = np.full(80, 0.95)
    confidence[[7, 40]] = 0.3
    assert not unsure(confidence, heard()).any()


def test_beats_without_confidence_are_unsure_and_the_others_stay_sure():
    confidence = np.full(80, 0.95)
    confidence[30:50] = 0.2
    found = np.flatnonzero(unsure(confidence, heard()))
    assert 26 <= found[0] <= 32
    assert 47 <= found[-1] <= 53
    assert len(found) == found[-1] - found[0] + 1


@pytest.mark.parametrize("part", [1 / 2, 1 / 3, 2 / 3])
def test_what_is_heard_beside_the_beats_makes_them_less_sure(part):
    confidence = np.full(80, 0.8)
    assert not unsure(confidence, heard()).any()
    found = np.flatnonzero(unsure(confidence, heard(part, beats=slice(50, 79))))
    assert 40 <= found[0] <= 56
    assert found[-1] == 79


def test_low_confidence_is_natural_where_no_tempo_is_heard_and_another_level_adds_doubt():
    confidence = np.full(80, 0.55)
    assert unsure(confidence, heard()).all()
    assert not unsure(confidence, heard(tempo=False)).any()
    assert unsure(np.full(80, 0.8), heard(), other_level=True).all()


@pytest.mark.parametrize("beats", [0, 1, 2, 5])
def test_a_few_beats_are_no_trouble(beats):
    assert find_unsure(TIMES[:beats], np.ones(beats), heard(), other_level=False).tolist() == [False] * beats
