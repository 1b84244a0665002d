"""What follows from what in a toss, and which values no toss has."""

import math

import pytest

from tempo_coach.errors import CoachError
from tempo_coach.pattern.toss.relations import GRAVITY, check_values, complete
from tempo_coach.report.words.errors import say_error
from tests.refused import refused

ASSUMED = {"release": 1.8, "catch": 1.2, "distance": 0.0}


def test_gravity_is_the_standard_one():
    assert GRAVITY == 9.80665  # m/s², 3rd CGPM, 1901


def test_what_is_stated_decides_before_anything_is_assumed():
    known, assumed = complete({"flight": 2.0, "release": 1.5, "catch": 1.5}, ASSUMED)
    assert known["up"] == pytest.approx(GRAVITY)  # exact: half of g T for a level toss
    assert assumed == ("distance",)
    known, assumed = complete({"rise": 4.903325, "flight": 2.0}, ASSUMED)
    assert assumed == ("release", "distance")
    assert known["catch"] == pytest.approx(1.8)  # up for 1 s and down for 1 s again


def test_counts_tempo_and_flight_follow_from_each_other():
    assert complete({"counts": 4, "tempo": 120}, ASSUMED)[0]["flight"] == 2
    assert complete({"flight": 2, "tempo": 120}, ASSUMED)[0]["counts"] == 4


def test_a_vertical_toss_says_nothing_about_a_distance():
    known, assumed = complete({"angle": 90.0, "distance": 0.0, "speed": 8.0}, ASSUMED)
    assert assumed == ("release", "catch")
    assert known["flight"] == pytest.approx((8 + math.sqrt(64 + 2 * GRAVITY * 0.6)) / GRAVITY)


@pytest.mark.parametrize(
    ("values", "words"),
    [
        ({"counts": 0}, "expected more than 0 and up to 64 counts, got 0"),
        ({"tempo": 19.9}, "expected a tempo of 20 to 400 beats a minute, got 19.9; the nearest is 20"),
        ({"release": 3.6}, "got 3.6; the nearest is 3.5"),
        ({"distance": -0.1}, "got -0.1; the nearest is 0"),
        ({"angle": math.inf}, "expected an angle of more than 0 and up to 90 degrees above the horizontal, got inf."),
    ],
)
def test_a_value_out_of_its_range_is_refused_with_the_nearest(values, words):
    with pytest.raises(CoachError) as caught:
        check_values({"flight": 1.0, **values})
    assert words in say_error(caught.value)


def test_the_ends_of_a_range_belong_to_it_where_they_make_sense():
    check_values({"tempo": 20, "distance": 0, "release": 3.5, "angle": 90})
    with refused(r"it would have to be 4\.00"):
        check_values({"catch": 4.0}, found=True)
