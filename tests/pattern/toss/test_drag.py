"""A toss as the air asks it to be thrown, against scipy's adaptive solver with dense events."""

import json
import math

import numpy as np
import pytest

from tempo_coach.pattern.toss import drag as ballistics
from tempo_coach.pattern.toss.bodies import BODIES, find_body
from tempo_coach.pattern.toss.drag import add_drag
from tempo_coach.pattern.toss.relations import GRAVITY
from tempo_coach.pattern.toss.solver import solve_toss, tabulate_tosses


def integrate(vx: float, vz: float, drag: float, *, higher: float = 0.0) -> tuple[float, float, float, float, float]:
    """Time and height of the top, time, place and vertical speed of the catch, by scipy.integrate.solve_ivp."""
    from scipy.integrate import solve_ivp

    def change(_: float, state: np.ndarray) -> list[float]:
        pull = -drag * math.hypot(state[2], state[3])
        return [state[2], state[3], pull * state[2], pull * state[3] - GRAVITY]

    def at_top(_: float, state: np.ndarray) -> float:
        return float(state[3])

    def at_catch(_: float, state: np.ndarray) -> float:
        return float(state[1] - higher)

    at_top.direction = at_catch.direction = -1  # type: ignore[attr-defined]  # solve_ivp reads it from the function
    found = solve_ivp(
        change,
        (0, 12),
        [0, 0, vx, vz],
        events=(at_top, at_catch),
        method="DOP853",
        rtol=1e-11,
        atol=1e-12,
        max_step=0.05,
    )
    top, catch = found.y_events[0][0], found.y_events[1][0]
    return found.t_events[0][0], top[1], found.t_events[1][0], catch[0], catch[3]


def test_the_release_reckoned_without_air_falls_short_and_the_right_one_does_not():
    toss = solve_toss(flight=2, distance_m=4, release_m=1.8, catch_m=1.2)
    [ball] = add_drag([toss], BODIES["ball"])
    assert ball is not None
    assert (toss.speed_mps, toss.angle_deg) == pytest.approx((9.714751, 78.119422), abs=5.1e-7)
    assert (ball.uncorrected_flight, ball.uncorrected_distance_m) == pytest.approx((1.921012, 3.485496), abs=5.1e-7)
    assert (ball.speed_mps, ball.angle_deg) == pytest.approx((10.212068, 77.412544), abs=5.1e-7)


@pytest.mark.parametrize("body", BODIES.values(), ids=lambda body: body.name)
@pytest.mark.parametrize(
    ("flight", "distance", "release", "catch"), [(1.0, 0, 1.5, 1.5), (2, 4, 1.8, 1.2), (2.6, 9, 1, 2)]
)
def test_a_release_in_air_lands_where_and_when_planned(body, flight, distance, release, catch):
    # independent: scipy.integrate.solve_ivp with the release that was found
    toss = solve_toss(flight=flight, distance_m=distance, release_m=release, catch_m=catch)
    [thrown] = add_drag([toss], body)
    assert thrown is not None
    slope = math.radians(thrown.angle_deg)
    vx, vz = thrown.speed_mps * math.cos(slope), thrown.speed_mps * math.sin(slope)
    top, height, lasting, place, falling = integrate(vx, vz, body.drag_per_m, higher=catch - release)
    assert (lasting, place) == pytest.approx((flight, distance), abs=1e-6)
    assert (thrown.apex_time, thrown.rise_m) == pytest.approx((top, height), abs=1e-6)
    assert thrown.catch_vertical_mps == pytest.approx(falling, abs=1e-6)
    assert thrown.apex_m == pytest.approx(release + height, abs=1e-6)
    _, _, lasting, place, _ = integrate(toss.along_mps, toss.up_mps, body.drag_per_m, higher=catch - release)
    assert (thrown.uncorrected_flight, thrown.uncorrected_distance_m) == pytest.approx((lasting, place), abs=1e-6)


def test_more_drag_wants_more_speed_and_the_range_says_so():
    [club] = add_drag([solve_toss(counts=4, tempo_bpm=110, distance_m=3)], find_body("clubs"))
    assert club is not None
    assert club.speed_low_mps < club.speed_mps < club.speed_high_mps
    assert club.angle_high_deg < club.angle_deg < club.angle_low_deg
    found = club.to_dict()
    assert found["speed_range_mps"] == [club.speed_low_mps, club.speed_high_mps]
    assert found["apparatus"] == "club"
    assert json.loads(json.dumps(found, allow_nan=False)) == found


def test_what_the_air_lets_nobody_throw_is_none():
    tosses, _ = tabulate_tosses(tempo_bpm=120)
    thrown = add_drag(tosses, BODIES["hoop face on"])
    assert [flight is not None for flight in thrown] == [True, True, True, True, True, False]
    assert add_drag([], BODIES["ball"]) == []


def test_a_whole_table_costs_hardly_more_integrations_than_one_toss(monkeypatch):
    flown = []
    fly = ballistics.fly

    def count(*values):
        flown.append(values)
        return fly(*values)

    monkeypatch.setattr(ballistics, "fly", count)
    tosses, _ = tabulate_tosses(tempo_bpm=124, distance_m=3)
    add_drag(tosses[-1:], BODIES["ball"])
    one = len(flown)
    add_drag(tosses, BODIES["ball"])
    assert len(tosses) >= 6
    assert len(flown) - one <= one + 3
