"""Exchanges of a routine, read from its moments."""

import pytest

from tempo_coach.music.counts.count_map import Position
from tempo_coach.pattern.routine.routine import MusicFile, Routine, RoutineMoment
from tempo_coach.score.group.together import read_exchanges
from tests.refused import refused


def read(*moments):
    made = tuple(RoutineMoment(what, Position(eight, count), hand) for what, eight, count, hand in moments)
    return [
        ((one.release.eight, one.release.count), (one.catch.eight, one.catch.count), dict(one.partners))
        for one in read_exchanges(Routine("five balls", MusicFile("five.wav"), moments=made))
    ]


def test_each_is_caught_at_the_next_catch_in_order_of_place():
    assert read(
        ("catch", 3, 1, ""),
        ("exchange", 2, 5, " Ada : Bea ,Bea:Ada,"),
        ("catch", 1, 1, ""),
        ("exchange", 3, 2.5, ""),
        ("mark", 3, 2.5, ""),  # at the same place, so not between
        ("catch", 3, 6, ""),
        ("catch", 3, 8, ""),
    ) == [((2, 5), (3, 1), {"Ada": "Bea", "Bea": "Ada"}), ((3, 2.5), (3, 6), {})]
    assert read(("catch", 1, 1, ""), ("mark", 1, 2, "")) == []


@pytest.mark.parametrize(
    "moments",
    [
        [("exchange", 2, 3, "")],
        [("catch", 2, 1, ""), ("exchange", 2, 3, "")],
        [("exchange", 2, 3, ""), ("exchange", 2, 5, ""), ("catch", 2, 7, "")],
        [("exchange", 2, 3, ""), ("mark", 2, 4, ""), ("catch", 2, 7, "")],
    ],
)
def test_what_is_not_caught_is_said_with_its_place(moments):
    with refused("exchange on eight 2 count 3: expected a catch"):
        read(*moments)


@pytest.mark.parametrize("hand", ["Ada", "Ada:", ":Bea", "Ada:Bea, Ada:Cyl"])
def test_partners_that_cannot_be_read_are_said(hand):
    with refused(r"exchange on eight 2 count 3\.5: expected MEMBER:MEMBER|count 3&: expected MEM"):
        read(("exchange", 2, 3.5, hand), ("catch", 2, 7, ""))
