"""Flights of a take in words and as values."""

import math

import pytest

from tempo_coach.report.words.flights import format_throws, say_throw, throws_to_list
from tempo_coach.score.trace.throws import Throw

NAN = math.nan


def throw(done=3.0, release=0.0, catch=0.0, length="in time", **more):
    return Throw(more.get("cycle", 0), more.get("hand", "right"), 3.0, done, release, catch, length)


@pytest.mark.parametrize(
    ("one", "said"),
    [
        (throw(), "in time: let go on the count, caught on the count"),
        (throw(release=0.0099, catch=-0.0099), "in time: let go on the count, caught on the count"),
        (throw(release=0.0101, catch=-0.0101), "in time: let go 10 ms late, caught 10 ms early"),
        (
            throw(3.256, catch=0.128, length="long"),
            "3.26 counts instead of 3, too long: let go on the count, caught 128 ms late",
        ),
        (
            throw(2.6, 0.08, -0.12, "short"),
            "2.60 counts instead of 3, too short: let go 80 ms late, caught 120 ms early",
        ),
        (throw(NAN, NAN, 0.1, "not seen"), "the release was not observed"),
        (throw(NAN, 0.1, NAN, "not seen"), "the catch was not observed"),
        (throw(NAN, NAN, NAN, "not seen"), "neither the release nor the catch was observed"),
    ],
)
def test_a_flight_is_said(one, said):
    assert say_throw(one) == said


def test_those_in_time_are_counted_and_the_others_named():
    text = format_throws([throw(), throw(NAN, NAN, 0, "not seen", cycle=4, hand="left")])
    assert text == "1 of 2 flights were in time.\n  cycle 5, left: the release was not observed"
    assert format_throws([]) == "0 of 0 flights were in time."


def test_as_values_in_counts_and_ms():
    assert throws_to_list([throw(2.66666, 0.0123456, NAN, "not seen", cycle=2)]) == [
        {
            "cycle": 2,
            "hand": "right",
            "asked_counts": 3.0,
            "counts": 2.6667,
            "release_ms": 12.3456,
            "catch_ms": None,
            "length": "not seen",
            "words": "the catch was not observed",
        }
    ]
    assert throws_to_list([]) == []
