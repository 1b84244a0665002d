"""Boomerangs in words and as values."""

import math

from tempo_coach.report.words.flights import boomerangs_to_list, format_boomerangs
from tempo_coach.score.trace.boomerang import Boomerang

NAN = math.nan
JUDGED = (
    Boomerang(0, "in time", 0.5, 0.0),
    Boomerang(1, "too long on the floor", 1.26, 0.1),
    Boomerang(4, "too early", -0.24, -0.7),
    Boomerang(5, "not seen", NAN, 0.33333),
)


def test_what_was_wrong_is_said_with_how_long_the_stick_lay():
    assert format_boomerangs(JUDGED).splitlines() == [
        "The pull came while the stick was on the floor in 1 of 4.",
        "  cycle 2: the stick lay too long: pull while it still slides (1.3 counts after the floor)",
        (
            "  cycle 5: the pull came before the stick was down: wait for the floor, then pull "
            "(0.2 counts before the floor)"
        ),
        "  cycle 6: the floor or the pull was not observed",
    ]


def test_without_one_it_is_none_of_none():
    assert format_boomerangs([]) == "The pull came while the stick was on the floor in 0 of 0."
    assert boomerangs_to_list([]) == []


def test_as_values_what_was_not_seen_is_none():
    assert boomerangs_to_list(JUDGED[3:]) == [
        {
            "cycle": 5,
            "pull": "not seen",
            "lie_counts": None,
            "off_counts": 0.3333,
            "words": "the floor or the pull was not observed",
        }
    ]
