"""The part of the counts that one go is laid on, and its map to the take clock."""

import numpy as np
import pytest

from tempo_coach.music.counts.count_map import CountMap, Position
from tempo_coach.pattern.plan.layout import lay_out
from tempo_coach.pattern.plan.passage import Passage, eights_between
from tempo_coach.pattern.plan.plan import Eight
from tests.pattern.made_up import MUSIC, make_drill, paused_music

BRIDGE = CountMap(0.5 * np.arange(40), ((0, 8), (8, 4), (12, 8)))


def test_the_take_clock_begins_with_the_lead_in_and_runs_at_the_speed():
    passage = Passage(CountMap.steady(60), 8.0, 16.0, 4, speed=0.5)
    assert passage.piece == (0.0, 4.0, 0.5)
    np.testing.assert_allclose(passage.on_take_clock([4, 8, 16]), [0, 8, 24])
    assert passage.duration == 24


def test_a_pause_is_waited_for_before_the_count_behind_it():
    passage = Passage(paused_music(), 8.0, 16.0, 0)  # count 12 is over at 7 s, the music goes on at 10 s
    begin = passage.piece.music_start
    np.testing.assert_allclose(passage.on_take_clock([12.0], after=False) + begin, [7.0])
    np.testing.assert_allclose(passage.on_take_clock([12.0]) + begin, [10.0])


def test_between_knots_both_run_evenly_and_a_pause_is_two_of_one_position():
    times, positions = Passage(paused_music(), 8.0, 16.0, 4).knots()
    assert (np.diff(times) >= 0).all() and (np.diff(positions) >= 0).all()
    assert (times[0], positions[0], positions[-1]) == (0, 4, 16)
    standing = np.flatnonzero(np.diff(positions) == 0)
    waits = np.diff(times)[standing]
    assert waits.max() == pytest.approx(3.0)
    assert positions[standing[waits.argmax()]] == 12
    assert np.delete(waits, waits.argmax()) == pytest.approx(0)


@pytest.mark.parametrize(
    ("first", "end", "found"),
    [
        (0.0, 8.0, [Eight(1, 0.0, 8)]),
        (0.0, 12.0, [Eight(1, 0.0, 8), Eight(2, 8.0, 4)]),
        (9.0, 13.0, [Eight(2, 8.0, 4), Eight(3, 12.0, 8)]),
        (20.0, 28.5, [Eight(4, 20.0, 8), Eight(5, 28.0, 8)]),
        (8.0, 8.0, [Eight(2, 8.0, 4)]),
    ],
)
def test_the_eights_that_are_touched_at_least_one(first, end, found):
    assert list(eights_between(BRIDGE, first, end)) == found


def test_places_are_told_in_eights_and_counts():
    plan = lay_out(make_drill(), paused_music(), music=MUSIC, from_eight=2, eights=2)
    assert plan.place(8) == Position(2, 1)
    assert plan.place(18.5) == Position(3, 3.5)
    assert plan.place(7) == Position(1, 8)
    assert plan.place(24) == Position(4, 1)  # behind the passage
