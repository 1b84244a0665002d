"""Flights of a trace in words and as values."""

import json
from dataclasses import replace

import pytest

from tempo_coach.observe.trace.flights import Flight
from tempo_coach.pattern.toss.solver import solve_toss
from tempo_coach.pattern.toss.toss import Toss
from tempo_coach.report.words.tossed import flight_to_dict, say_flight, say_release, say_scale
from tempo_coach.score.trace.throws import Tossed

#: A toss of a metre trace: 1.2 s in the air; 9.80665 is the standard acceleration of free fall (CGPM 1901).
FLIGHT = Flight(1.0, 2.2, 6.6, 78.0, 3.5, 0.6, 9.80665, 0.0, 1.0, 1.5, 1.5, 1.6)
#: What was asked where a release is set beside it.
PLANNED = Toss(2.0, 1.8, 1.2, 3.0, 4)
SEEN = "in the air from 1.000 to 2.200 s (1.200 s)"
OR = "or the point is not the apparatus' middle"
SCALE = "g comes out as 9.81 m/s², so the scale is right"


def tossed(asked=None, **changes):
    return Tossed(replace(FLIGHT, **changes), 6.6, 1.6, 2.0, asked)


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({}, f"{SEEN}: let go with 6.60 m/s at 78°, rises 2.00 m, caught 1.60 m away; {SCALE}"),
        (
            {"ends": "bounce"},
            f"{SEEN}: let go with 6.60 m/s at 78°, rises 2.00 m, not caught, on the floor 1.60 m away; {SCALE}",
        ),
        (
            {"ends": "edge"},
            f"{SEEN}: let go with 6.60 m/s at 78°, rises 2.00 m, lost from sight 1.60 m away; {SCALE}",
        ),
        ({"begins": "edge"}, f"{SEEN}, but the release was not seen; caught; {SCALE}"),
    ],
)
def test_what_was_thrown(changes, said):
    assert say_flight(tossed(**changes)) == said


@pytest.mark.parametrize(
    ("gravity", "said"),
    [
        (9.80665 * 1.029, "g comes out as 10.09 m/s², so the scale is right"),
        (9.80665 * 0.971, "g comes out as 9.52 m/s², so the scale is right"),
        (
            9.80665 * 1.1,
            f"g comes out as 10.79 instead of 9.81 m/s²: lengths are 10% too large, {OR}",
        ),
        (
            9.80665 * 0.5,
            f"g comes out as 4.90 instead of 9.81 m/s²: lengths are 50% too small, {OR}",
        ),
    ],
)
def test_what_gravity_says_of_the_scale(gravity, said):
    assert say_scale(replace(FLIGHT, gravity=gravity)) == said


def test_where_the_unit_is_none_gravity_makes_it_one():
    assert say_scale(replace(FLIGHT, metres_a_unit=0.0041234)) == (
        "g makes a unit 4.12 mm, if the film runs at its true speed"
    )


@pytest.mark.parametrize(
    ("asked", "counts", "end"),
    [
        (1.22, None, ""),
        (1.1, None, "; the flight is 100 ms too long"),
        (1.3, None, "; the flight is 100 ms too short"),
        (1.5, 3.0, "; the flight is 0.60 counts too short (300 ms)"),
        (1.0, 2.0, "; the flight is 0.40 counts too long (200 ms)"),
    ],
)
def test_a_flight_is_long_or_short_beside_what_was_asked(asked, counts, end):
    said = say_flight(tossed(Toss(asked, 1.5, 1.5, 1.6, counts)))
    assert "; let go " in said
    assert said.partition("; the flight")[1] + said.partition("; the flight")[2] == end


def test_a_flight_whose_end_was_not_seen_is_neither_long_nor_short():
    told = tossed(Toss(2.0, 1.5, 1.5, 1.6), ends="edge")
    assert "the flight is" not in say_flight(told)
    assert flight_to_dict(told)["off"]["flight_s"] is None


def test_as_values_with_what_it_was_off():
    values = json.loads(json.dumps(flight_to_dict(tossed(Toss(1.0, 1.5, 1.5, 1.6), release=1.00004)), allow_nan=False))
    assert (values["release"], values["catch"], values["flight_s"]) == (1.0, 2.2, 1.2)
    assert (values["begins"], values["ends"], values["speed_mps"], values["distance_m"]) == (
        "release",
        "catch",
        6.6,
        1.6,
    )
    assert values["off"]["flight_s"] == pytest.approx(0.2, abs=1e-4)
    assert values["off"]["speed_mps"] == pytest.approx(6.6 - Toss(1.0, 1.5, 1.5, 1.6).speed_mps, abs=1e-4)
    assert values["asked"] and values["words"].startswith("in the air from 1.000")
    alone = flight_to_dict(tossed())
    assert alone["asked"] is None and alone["off"] is None


def test_a_measured_release_becomes_one_sentence():
    # independent: the toss of that release solved anew lands where the sentence says
    flat = solve_toss(speed_mps=PLANNED.speed_mps, angle_deg=PLANNED.angle_deg - 11, release_m=1.8, catch_m=1.2)
    said = say_release(PLANNED, angle_deg=PLANNED.angle_deg - 11, speed_mps=PLANNED.speed_mps)
    assert said.startswith(f"let go 11° too flat: it lands {flat.distance_m - 3:.1f} m further")
    steep = say_release(PLANNED, angle_deg=PLANNED.angle_deg + 2, speed_mps=PLANNED.speed_mps + 0.5)
    assert steep.startswith("let go 2° too steep and 0.5 m/s too fast: it lands 0.")
    assert "nearer and 1" in steep
    assert say_release(PLANNED, angle_deg=PLANNED.angle_deg + 0.2, speed_mps=PLANNED.speed_mps) == "let go as planned"


def test_a_release_that_does_not_come_up_says_so():
    low = Toss(0.8, 0.5, 1.2, 2.0)
    assert say_release(low, angle_deg=low.angle_deg, speed_mps=1).endswith("does not come up to the catch")
