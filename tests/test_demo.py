"""The invented music and takes of the demo: the same every time, with the faults that its words speak of."""

import numpy as np
import pytest

from tempo_coach import coach
from tempo_coach.demo import compose, invent_onsets
from tempo_coach.observe.take.onsets import Take
from tests.generators.workplace import invented_music


def test_the_music_is_the_same_every_time():
    one, other = invented_music(), compose()
    np.testing.assert_array_equal(one.sound.samples, other.sound.samples)
    assert np.abs(one.sound.samples).max() <= 1


@pytest.mark.parametrize("long_cycle", [5, 3])
def test_the_takes_faults_are_where_they_were_made(long_cycle):
    plan = coach.lay(coach.Request("rope_figure_eight", tempo_bpm=100, cycles=16))
    card = coach.judge_take(Take(plan, invent_onsets(plan, long_cycle=long_cycle, late_cycle=9)))
    assert {(cycle.cycle, flag.kind) for cycle in card.flagged for flag in cycle.flags} == {
        (long_cycle, "long"),
        (9, "late"),
    }
    assert len(card.missed) == len(card.extra_time) == 0
