"""How each kind of sound is heard, before anything is known of the recording."""

import pytest

from tempo_coach.observe.observers import SOUNDS
from tempo_coach.observe.sound.kinds import make_detector


@pytest.mark.parametrize("kind", SOUNDS)
def test_an_ear_without_a_sample_hears_like_its_kind_and_has_no_threshold(kind):
    detector = make_detector(kind)
    assert detector.profile is SOUNDS[kind]
    assert (detector.threshold, detector.weights, detector.closest) == (None, None, SOUNDS[kind].closest)
    assert make_detector(kind, closest=0.3).closest == 0.3
