"""Which moments are the two ends of a flight."""

from dataclasses import replace

import pytest

from tempo_coach.music.counts.count_map import CountMap
from tempo_coach.pattern.drill.pattern import Hand, Moment, Pattern
from tempo_coach.pattern.plan.layout import lay_out
from tempo_coach.pattern.toss.flight_moments import find_thrown
from tests.pattern.made_up import make_drill


def plan_of(*kinds, apparatus="ball", cycles=1):
    """A count for each moment, of such a kind; a left hand that catches once beside it."""
    moments = tuple(Moment(float(k), f"{k}", kind) for k, kind in enumerate(kinds))
    hands = (Hand("right", moments), Hand("left", (Moment(0.5, "left", "catch"),)))
    drill = replace(make_drill(), apparatus=apparatus, pattern=Pattern(float(len(kinds)), (), hands))
    return lay_out(drill, CountMap.steady(60), cycles=cycles)


def ends(plan):
    return [(plan.moments.label[a], plan.moments.label[b]) for a, b in find_thrown(plan, "right")]


@pytest.mark.parametrize(
    ("kinds", "found"),
    [
        (("release", "catch"), [("0", "1")]),
        (("release", "circle", "catch"), [("0", "2")]),
        (("release", "contact", "catch"), []),
        (("release", "pull", "catch"), []),
        (("contact", "release", "catch"), [("1", "2")]),
        (("release", "release", "catch"), [("1", "2")]),
        (("catch", "release"), []),
        (("release", "catch", "catch"), [("0", "1")]),
        (("circle",), []),
    ],
)
def test_a_release_and_the_catch_behind_it_unless_something_lies_between(kinds, found):
    assert ends(plan_of(*kinds)) == found


def test_a_flight_may_go_over_into_the_next_cycle_and_other_hands_catch_nothing_of_it():
    assert ends(plan_of("catch", "release", cycles=3)) == [("1", "0"), ("1", "0")]
    assert find_thrown(plan_of("release", "catch"), "left") == []


@pytest.mark.parametrize("apparatus", ["rope", "ribbon"])
def test_what_the_air_holds_flies_nowhere_that_can_be_planned(apparatus):
    assert ends(plan_of("release", "catch", apparatus=apparatus)) == []
