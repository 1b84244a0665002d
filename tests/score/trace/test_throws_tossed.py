"""Flights beside the toss that was asked: off in angle, speed and length, on the heights as done."""

import math
from types import SimpleNamespace

import pytest

from tempo_coach.coach import Request, lay
from tempo_coach.observe.trace.flights import find_flights
from tempo_coach.observe.trace.trace import Channel, Trace
from tempo_coach.pattern.toss.relations import HIGHEST_HAND_M
from tempo_coach.pattern.toss.solver import CATCH_M, RELEASE_M, solve_toss
from tempo_coach.report.words.tossed import flight_to_dict, say_flight, say_scale
from tempo_coach.score.trace.throws import asked_flight, set_tosses_beside
from tests.generators import movement
from tests.refused import refused


def flights_of(seed=1, *, unit="m", scale=1.0, **options):
    made = movement.toss(seed, **options)
    channels = [Channel(axis, "position", axis, unit=unit) for axis in "xy"]
    return find_flights(Trace(made.trace.time, made.trace.values * scale, channels))


def test_a_toss_as_asked_is_not_off():
    # level, so its time in the air is 2 v sin(a) / g (exact)
    flight = 2 * 7 * math.sin(math.radians(80)) / 9.80665
    (tossed,) = set_tosses_beside(flights_of(speed=7, angle_deg=80), {"flight": flight})
    assert tossed.angle_off == pytest.approx(0, abs=0.3)
    assert tossed.speed_off == pytest.approx(0, abs=0.05)
    assert tossed.seconds_off == pytest.approx(0, abs=0.02)
    assert tossed.distance_m == pytest.approx(7 * math.cos(math.radians(80)) * flight, abs=0.05)


def test_eleven_degrees_too_flat_is_told_with_where_it_lands():
    asked = {"speed_mps": 7.0, "angle_deg": 80.0}
    (tossed,) = set_tosses_beside(flights_of(speed=7, angle_deg=69), asked)
    assert tossed.angle_off == pytest.approx(-11, abs=0.3)
    flat, right = (solve_toss(speed_mps=7, angle_deg=a, release_m=1.5, catch_m=1.5).distance_m for a in (69, 80))
    assert f"let go 11° too flat: it lands {flat - right:.1f} m further" in say_flight(tossed)


def test_a_flight_of_too_few_counts_is_told_in_counts():
    (tossed,) = set_tosses_beside(flights_of(speed=7, angle_deg=80), {"counts": 3, "tempo_bpm": 120})
    short = 1.5 - 2 * 7 * math.sin(math.radians(80)) / 9.80665
    assert tossed.seconds_off == pytest.approx(-short, abs=0.02)
    counts = float(say_flight(tossed).split("the flight is ")[1].split(" counts too short")[0])
    assert counts == pytest.approx(short / 0.5, abs=0.05)


def test_pixels_are_scaled_by_gravity_and_it_is_said():
    (tossed,) = set_tosses_beside(flights_of(unit="px", scale=180, speed=7, angle_deg=80), {"flight": 1.4})
    assert tossed.speed_mps == pytest.approx(7, rel=0.02)
    assert tossed.rise_m == pytest.approx((7 * math.sin(math.radians(80))) ** 2 / 2 / 9.80665, rel=0.02)
    assert "g makes a unit 5.5" in say_flight(tossed)
    assert tossed.asked is not None


def test_a_wrong_scale_is_told_by_gravity():
    (tossed,) = set_tosses_beside(flights_of(scale=1.08))
    assert tossed.asked is None
    assert "lengths are 8% too large" in say_scale(tossed.flight)
    assert flight_to_dict(tossed)["off"] is None


def test_a_ball_that_is_not_caught_is_told():
    (tossed,) = set_tosses_beside(find_flights(movement.dropped(1).trace), {"counts": 3, "tempo_bpm": 120})
    assert "not caught, on the floor" in say_flight(tossed)


def test_an_unseen_release_is_not_judged():
    made = movement.toss(2)
    late = made.trace.time > made.release + 0.2
    flights = find_flights(Trace(made.trace.time[late], made.trace.values[late], made.trace.channels))
    (tossed,) = set_tosses_beside(flights, {"flight": 1.4})
    assert tossed.asked is None
    assert "the release was not seen" in say_flight(tossed)


def test_a_plan_says_how_long_its_flights_are():
    assert asked_flight(lay(Request("ball_toss_turn", tempo_bpm=100, cycles=2))) == {"counts": 3.0, "flight": 1.8}
    assert asked_flight(lay(Request("rope_figure_eight", tempo_bpm=100, cycles=2))) == {}


def test_what_nobody_can_throw_is_refused():
    with refused("hall"):
        set_tosses_beside(flights_of(), {"flight": 10.0})
    assert set_tosses_beside([], {"flight": 1.0}) == []


def flown(release, catch, *, begins="release", ends="catch"):
    """Two units to the metre."""
    return SimpleNamespace(
        metres_a_unit=0.5, speed=14.0, distance=2.0, apex=release + 5.0, release_height=release, catch_height=catch,
        begins=begins, ends=ends, seconds=1.5, angle_deg=80.0,
    )  # fmt: skip


@pytest.mark.parametrize(
    ("release", "catch", "ends", "heights"),
    [
        (3.0, 2.0, "catch", (1.5, 1.0)),
        (2 * HIGHEST_HAND_M, 2 * HIGHEST_HAND_M, "catch", (HIGHEST_HAND_M, HIGHEST_HAND_M)),
        # a trace whose zero is not the floor keeps the difference
        (-1.0, -1.4, "catch", (RELEASE_M, RELEASE_M - 0.2)),
        (0.0, 0.4, "catch", (RELEASE_M, RELEASE_M + 0.2)),
        (20.0, 19.0, "catch", (RELEASE_M, RELEASE_M - 0.5)),
        # a catch that was not seen, or that no hand reaches
        (3.0, 2.0, "edge", (1.5, CATCH_M)),
        (3.0, 0.0, "catch", (1.5, CATCH_M)),
        (3.0, -0.1, "catch", (1.5, CATCH_M)),
        (3.0, 7.2, "catch", (1.5, CATCH_M)),
        (-1.0, -9.0, "catch", (RELEASE_M, CATCH_M)),
    ],
)
def test_heights_of_the_hands_are_as_done_where_they_can_be(release, catch, ends, heights):
    (tossed,) = set_tosses_beside([flown(release, catch, ends=ends)], {"flight": 1.4})
    assert (tossed.asked.release_m, tossed.asked.catch_m) == pytest.approx(heights)
    assert (tossed.speed_mps, tossed.distance_m, tossed.rise_m) == (7.0, 1.0, 2.5)
    assert (tossed.asked.distance_m == 1.0) == (ends == "catch")
    assert math.isnan(tossed.seconds_off) if ends == "edge" else tossed.seconds_off == pytest.approx(0.1)


def test_nothing_is_off_where_nothing_was_asked_or_the_release_was_not_seen():
    for flights, asked in (([flown(3.0, 2.0)], None), ([flown(3.0, 2.0, begins="edge")], {"flight": 1.4})):
        (tossed,) = set_tosses_beside(flights, asked)
        assert tossed.asked is None and tossed.rise_m == 2.5
        assert all(math.isnan(off) for off in (tossed.angle_off, tossed.speed_off, tossed.seconds_off))
