"""Where cycles begin on counts, where they are over, and the moments that they ask for."""

import numpy as np
import pytest

from tempo_coach.music.counts.count_map import CountMap
from tempo_coach.pattern.drill.pattern import Hand, Moment, Pattern
from tempo_coach.pattern.plan.cycle_moments import cycle_starts, end_of_cycles, make_moments
from tempo_coach.pattern.plan.passage import Passage
from tests.pattern.made_up import make_drill
from tests.refused import refused

BRIDGE = CountMap(0.5 * np.arange(40), ((0, 8), (8, 4), (12, 8)))
RUNS_ON = make_drill(3.0).pattern
RESTARTS = make_drill(3.0, restart="eight").pattern


@pytest.mark.parametrize(
    ("pattern", "first", "end", "starts"),
    [
        (RUNS_ON, 0, 20, [0, 3, 6, 9, 12, 15]),
        (RUNS_ON, 1.5, 7.5, [1.5, 4.5]),
        (RUNS_ON, 0, 2.9, []),
        (RESTARTS, 0, 20, [0, 3, 8, 12, 15]),
        (RESTARTS, 2, 13, [2, 5, 8]),
        (RESTARTS, 12, 12, []),
    ],
)
def test_whole_cycles_run_on_or_restart_with_every_eight(pattern, first, end, starts):
    assert cycle_starts(pattern, BRIDGE, first, end) == starts


@pytest.mark.parametrize("pattern", [RUNS_ON, RESTARTS])
@pytest.mark.parametrize("first", [0.0, 2.0, 9.0])
def test_what_ends_there_holds_so_many_cycles_and_no_more(pattern, first):
    for number in range(1, 7):
        end = end_of_cycles(pattern, BRIDGE, first, number)
        starts = cycle_starts(pattern, BRIDGE, first, end)
        assert len(starts) == number
        assert starts[-1] + 3 == end


def test_a_cycle_longer_than_the_eight_it_restarts_with_is_refused():
    with refused("a cycle of 5 counts that restarts with every eight is longer than one"):
        end_of_cycles(make_drill(5.0, restart="eight").pattern, BRIDGE, 0.0, 2)  # the bridge has four


def test_moments_stand_in_order_of_time_and_of_two_at_once_the_reference_first():
    hands = (Hand("right", (Moment(1.0, "r", "contact"),)), Hand("left", (Moment(0.0, "l"), Moment(1.0, "m"))))
    passage = Passage(CountMap.steady(60), 0.0, 4.0, 2)
    moments = make_moments(Pattern(2.0, (), hands), [0.0, 2.0], "ones", passage, first_cycle=5)
    np.testing.assert_allclose(moments.time, [2, 3, 3, 4, 5, 5])
    assert moments.hand == ("left", "right", "left") * 2
    assert moments.label == ("l", "r", "m") * 2
    assert moments.kind == ("circle", "contact", "circle") * 2
    assert moments.cycle.tolist() == [5, 5, 5, 6, 6, 6]
    np.testing.assert_allclose(moments.count, [0, 1, 1, 2, 3, 3])
    assert moments.cue.tolist() == [True, True, False] * 2  # the first of each hand
    assert np.isnan(moments.asked_lag_deg).all()  # hands of different numbers of moments
