"""How each kind of sound is heard, before anything is known of the recording."""

import pytest

from tempo_coach.observe.sound.kinds import KINDS, MANNERS, make_ear


def test_what_a_kind_adds_is_said_for_each():
    assert set(MANNERS) == set(KINDS)
    assert MANNERS["voice"].spread_ms > MANNERS["clap"].spread_ms > 0


@pytest.mark.parametrize("kind", KINDS)
def test_an_ear_without_a_sample_has_the_manner_of_its_kind_and_no_threshold(kind):
    ear = make_ear(kind)
    assert ear.manner is MANNERS[kind]
    assert (ear.threshold, ear.weights, ear.closest) == (None, None, MANNERS[kind].closest)
    assert make_ear(kind, closest=0.3).closest == 0.3
