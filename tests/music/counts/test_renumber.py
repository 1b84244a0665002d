"""How the numbering follows: what was set stays on its beat, the eights between are counted anew."""

import numpy as np
import pytest

from tempo_coach.music.counts.count_map import CountMap
from tempo_coach.music.counts.renumber import EightRun, build, carry, find_runs, median_period, modal_length
from tests.music.counted import STEADY, WITH_PAUSE

BRIDGE = CountMap(0.5 * np.arange(30), ((2, 8), (10, 4), (14, 8), (22, 8)))


def test_the_usual_length_is_that_of_most_and_of_two_the_one_that_is_danced():
    assert modal_length(BRIDGE) == 8
    assert modal_length(CountMap(np.arange(20.0), ((0, 6), (6, 6), (12, 8)))) == 6
    assert modal_length(CountMap(np.arange(20.0), ((0, 5), (5, 8)))) == 8
    assert modal_length(CountMap(np.arange(20.0), ((0, 4), (4, 5)))) == 5


def test_a_count_is_as_long_as_those_around_it_with_pauses_left_out():
    assert median_period(WITH_PAUSE, 8.9) == pytest.approx(0.5)
    slowing = CountMap(np.cumsum(np.linspace(0.4, 0.8, 41)))
    assert median_period(slowing, float(slowing.beats[20])) == pytest.approx(0.6, abs=0.02)
    assert median_period(slowing, -5.0) < 0.5 and median_period(slowing, 99.0) > 0.7


def test_a_stretch_begins_at_the_first_one_and_behind_every_eight_of_unusual_length():
    assert find_runs(STEADY) == [EightRun(0, (8,) * 8)]
    assert find_runs(BRIDGE) == [EightRun(2, (8, 4)), EightRun(14, (8, 8))]


def test_built_of_what_it_is_made_of_it_stays_as_it_is():
    for counts in (STEADY, WITH_PAUSE, BRIDGE):
        again = build(counts, counts.beats, find_runs(counts), counts.pauses)
        assert (again.eights, again.pauses) == (counts.eights, counts.pauses)


def test_carried_to_other_beats_each_begins_on_the_nearest_one_and_behind_the_end_stays_there():
    old, new = 0.5 * np.arange(20), 0.02 + 1.0 * np.arange(10)
    carried = carry([EightRun(3, ()), EightRun(8, (8,)), EightRun(20, ())], old, new)
    assert carried == [EightRun(1, ()), EightRun(4, (8,)), EightRun(10, ())]


def test_what_is_left_over_before_a_set_place_is_a_short_eight_and_what_leaves_no_room_goes():
    built = build(STEADY, STEADY.beats, [EightRun(0, ()), EightRun(21, ()), EightRun(21, ())], ())
    assert built.eights[:4] == ((0, 8), (8, 8), (16, 5), (21, 8))
    assert [start for start, _ in built.eights].count(21) == 1


def test_a_pause_into_which_a_beat_was_put_goes_on_behind_that_beat():
    beats = np.sort(np.append(WITH_PAUSE.beats, 9.0))
    built = build(WITH_PAUSE, beats, find_runs(WITH_PAUSE), WITH_PAUSE.pauses)
    assert built.pauses == ((8.0, 9.0), (9.5, 10.0))
