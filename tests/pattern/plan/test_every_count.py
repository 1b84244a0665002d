"""A moment on every count, on the music's own clock."""

import numpy as np
import pytest

from tempo_coach.music.counts.count_map import CountMap
from tempo_coach.pattern.plan.every_count import BODY, EVERY_COUNT, lay_every_count
from tests.pattern.made_up import MUSIC, paused_music


def test_with_music_every_count_to_its_end_is_asked_where_it_falls_in_the_file():
    counts = paused_music()
    plan = lay_every_count(counts, end=1.0, music=MUSIC)
    np.testing.assert_allclose(plan.moments.time, counts.seconds_at(np.arange(48), after=True))
    assert plan.pieces == ((0.0, 0.0, 1.0),)
    assert (plan.drill, plan.hands, plan.cycles) == (EVERY_COUNT, (BODY,), 48)
    np.testing.assert_allclose(plan.counts_at(counts.beats[[0, 20, 47]]), [0, 20, 47])
    assert not plan.moments.cue.any() and not len(plan.cues.time)


@pytest.mark.parametrize(("end", "eights"), [(0.0, 1), (7.9, 1), (8.1, 2), (30.0, 4)])
def test_without_music_it_goes_on_for_the_eights_up_to_an_end(end, eights):
    plan = lay_every_count(CountMap.steady(60), end=end, tempo_bpm=60)
    np.testing.assert_allclose(plan.moments.time, np.arange(8 * eights))
    assert len(plan.eights) == eights
    assert plan.tempo_bpm == 60


def test_counts_that_begin_later_than_the_file_are_asked_later():
    plan = lay_every_count(CountMap.steady(120, start=3.0), end=4.0, tempo_bpm=120)
    assert plan.moments.time[0] == pytest.approx(3.0)
    assert plan.start == pytest.approx(3.0)
    assert plan.duration == pytest.approx(3.0 + 8 * 0.5)
