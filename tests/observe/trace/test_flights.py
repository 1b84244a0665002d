"""Free flights: release and catch, speed and angle, and gravity as the check of scale."""

import math

import numpy as np
import pytest

from tempo_coach.observe.trace.flights import GRAVITY, find_flights
from tempo_coach.observe.trace.trace import Channel, Trace, cut
from tests.generators import movement
from tests.refused import refused


def test_release_angle_and_gravity_come_out_of_noisy_positions() -> None:
    # 100 Hz, 5 mm of noise, 60 tosses: release within 5 ms, angle within 1°, g within 1 % of the exact truth
    errors = []
    for seed in range(60):
        made = movement.toss(seed)
        (flight,) = find_flights(made.trace)
        errors.append(
            (
                flight.release - made.release,
                flight.catch - made.catch,
                flight.angle_deg - made.angle_deg,
                flight.gravity / GRAVITY - 1,
                flight.speed / made.speed - 1,
            )
        )
    release, catch, angle, gravity, speed = np.abs(errors).T
    assert (release < 0.005).mean() >= 0.95
    assert release.max() < 0.01
    assert np.median(catch) < 0.005
    assert angle.max() < 1
    assert gravity.max() < 0.01
    assert speed.max() < 0.02


@pytest.mark.parametrize("unit", ["m", "px"])
def test_a_bounce_is_no_flight(unit: str) -> None:
    for seed in range(10):
        made = movement.dropped(seed)
        channels = [Channel(axis, "position", axis, unit=unit) for axis in "xy"]
        trace = Trace(made.trace.time, made.trace.values * (1 if unit == "m" else 180), channels)
        (flight,) = find_flights(trace)
        assert (flight.begins, flight.ends) == ("release", "bounce")
        # an impact is a kink, so its instant is sharp
        assert flight.catch == pytest.approx(made.catch, abs=0.005)


def test_a_ball_that_leaves_the_picture_at_the_top_is_in_one_flight() -> None:
    for seed in range(20):
        made = movement.toss(seed)
        top = float(made.trace.values[:, 1].max())
        (flight,) = find_flights(movement.leave_picture(made, 1.5 + 0.6 * (top - 1.5)).trace)
        assert (flight.begins, flight.ends) == ("release", "catch")
        assert flight.release == pytest.approx(made.release, abs=0.01)
        assert flight.apex == pytest.approx(top, abs=0.03)
        assert flight.gravity == pytest.approx(GRAVITY, rel=0.01)


def test_a_release_or_a_catch_that_was_not_seen_is_said() -> None:
    made = movement.toss(2)
    early = cut(made.trace, 0, made.release + 0.7 * (made.catch - made.release))
    (flight,) = find_flights(early)
    assert (flight.begins, flight.ends) == ("release", "edge")
    (flight,) = find_flights(cut(made.trace, made.release + 0.2, 5))
    assert (flight.begins, flight.ends) == ("edge", "catch")
    assert flight.catch == pytest.approx(made.catch, abs=0.02)


def test_a_level_toss_rises_g_t_squared_over_eight() -> None:
    # H = g T²/8 (exact)
    made = movement.toss(3, noise=0.0)
    (flight,) = find_flights(made.trace)
    assert flight.seconds == pytest.approx(made.catch - made.release, abs=0.01)
    assert flight.apex - 1.5 == pytest.approx(GRAVITY * (made.catch - made.release) ** 2 / 8, rel=0.005)


def test_gravity_gives_the_scale_of_pixels() -> None:
    made = movement.toss(5, noise=0.002)
    pixels = Trace(made.trace.time, made.trace.values * 180, [Channel("x", "position", "x", unit="px"),
                                                             Channel("y", "position", "y", unit="px")])  # fmt: skip
    (flight,) = find_flights(pixels)
    assert 1 / flight.metres_a_unit == pytest.approx(180, rel=0.03)
    assert flight.release == pytest.approx(made.release, abs=0.02)


def test_mills_and_rope_are_no_flights() -> None:
    for seed in range(4):
        assert find_flights(movement.rope(seed).trace) == []
        assert find_flights(movement.carried(seed).trace) == []


def test_a_trace_without_height_is_told_so() -> None:
    time = movement.clock(2, 100)
    with refused("height"):
        find_flights(Trace(time, np.sin(time)[:, None], [Channel("x", "position", "x")]))
    with pytest.raises(ValueError, match="positions"):
        find_flights(Trace(time, np.sin(time)[:, None], [Channel("ax", "acceleration", "x")]))


def test_too_slow_a_table_gives_no_flight() -> None:
    made = movement.toss(1)
    slow = Trace(made.trace.time[::12], made.trace.values[::12], made.trace.channels)
    assert find_flights(slow) == []
    assert math.isfinite(made.release)
