"""Errors of the release: exact recomputation of the parabola, and what a swinging arm adds."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tempo_coach.pattern.toss.relations import GRAVITY
from tempo_coach.pattern.toss.release import find_passing, find_windows, miss_catch, show_sensitivity, turn_of_arm
from tempo_coach.pattern.toss.solver import solve_toss
from tempo_coach.pattern.toss.toss import Toss
from tests.refused import refused

TOSS = Toss(2.0, 1.8, 1.2, 3.0, 4)
WINDOWS = {"angle_deg", "speed_mps", "release_s"}


@pytest.mark.parametrize("off", [{"angle_deg": -11.0}, {"angle_deg": 1.0}, {"speed_mps": 0.1}, {"speed_mps": -0.5}])
def test_another_angle_or_speed_is_another_parabola(off):
    # independent of miss_catch: the whole toss solved anew
    other = solve_toss(
        speed_mps=TOSS.speed_mps + off.get("speed_mps", 0),
        angle_deg=TOSS.angle_deg + off.get("angle_deg", 0),
        release_m=1.8,
        catch_m=1.2,
    )
    miss = miss_catch(TOSS, **off)
    assert miss.place_m == pytest.approx(other.distance_m - 3.0)
    assert miss.late == pytest.approx(other.flight - 2.0)


def test_a_right_release_misses_nothing():
    miss = miss_catch(TOSS)
    assert (miss.place_m, miss.late) == pytest.approx((0, 0), abs=1e-12)


def test_a_hand_that_does_not_turn_only_lets_go_elsewhere():
    # exact: the release point is v t further on the same line; t later on the clock
    late = 0.02
    miss = miss_catch(TOSS, release_s=late, turning_dps=0)
    moved = Toss(2.0, 1.8 + TOSS.up_mps * late, 1.2, 3.0)
    other = solve_toss(speed_mps=TOSS.speed_mps, angle_deg=TOSS.angle_deg, release_m=moved.release_m, catch_m=1.2)
    assert miss.place_m == pytest.approx(TOSS.along_mps * late + other.distance_m - 3.0)
    assert miss.late == pytest.approx(late + other.flight - 2.0)


@given(st.floats(0.005, 0.05), st.floats(50, 900))
def test_a_turning_hand_goes_round_its_arc(late, turning):
    # the arc in 2000 straight pieces, each in its own direction, then a parabola of its own
    along = up = 0.0
    piece = late / 2000
    for number in range(2000):
        angle = math.radians(TOSS.angle_deg + turning * piece * (number + 0.5))
        along += TOSS.speed_mps * math.cos(angle) * piece
        up += TOSS.speed_mps * math.sin(angle) * piece
    angle = math.radians(TOSS.angle_deg + turning * late)
    rising = TOSS.speed_mps * math.sin(angle)
    flight = (rising + math.sqrt(rising**2 + 2 * GRAVITY * (0.6 + up))) / GRAVITY
    miss = miss_catch(TOSS, release_s=late, turning_dps=turning)
    assert miss.place_m == pytest.approx(along + TOSS.speed_mps * math.cos(angle) * flight - 3.0, abs=1e-5)
    assert miss.late == pytest.approx(late + flight - 2.0, abs=1e-5)


def test_late_is_nearer_from_below_and_further_from_behind():
    assert miss_catch(TOSS, release_s=0.02, turning_dps=400).place_m < -1
    assert miss_catch(TOSS, release_s=0.02, turning_dps=-400).place_m > 1
    assert turn_of_arm(TOSS) == pytest.approx(math.degrees(TOSS.speed_mps / 0.7))


def test_sensitivity_has_each_step_both_ways():
    rows = show_sensitivity(TOSS, turning_dps=400)
    assert [(row["error"], row["by"]) for row in rows] == [
        ("angle_deg", -1.0),
        ("angle_deg", 1.0),
        ("speed_mps", -0.1),
        ("speed_mps", 0.1),
        ("release_s", -0.02),
        ("release_s", 0.02),
    ]
    # near the slope of the parabola's own formula: dT/du = 1/g (1 + u/sqrt(u² + 2 g 0.6))
    up = TOSS.up_mps
    per_mps = (1 + up / math.sqrt(up**2 + 2 * GRAVITY * 0.6)) / GRAVITY * math.sin(math.radians(TOSS.angle_deg))
    assert rows[3]["late_s"] == pytest.approx(0.1 * per_mps, rel=0.01)


@given(st.floats(0.2, 1.5), st.floats(100, 900))
def test_at_the_edge_of_a_window_it_lands_at_the_end_of_the_reach(reach, turning):
    windows = find_windows(TOSS, reach_m=reach, turning_dps=turning)
    assert set(windows) == WINDOWS
    for error, edges in windows.items():
        for sign, edge in zip((-1, 1), edges, strict=True):
            assert sign * edge > 0
            miss = miss_catch(TOSS, **{error: edge}, turning_dps=turning)
            assert abs(miss.place_m) == pytest.approx(reach, abs=1e-6)


def test_a_straight_toss_without_turning_has_no_edge_but_the_end_of_the_search():
    straight = Toss(2.0, 1.5, 1.5, 0.0)
    assert find_windows(straight, turning_dps=0)["release_s"] == (-0.3, 0.3)


def test_it_passes_the_hand_in_a_few_hundredths_of_a_second():
    before, after = find_passing(TOSS, reach_m=0.7)
    speed = math.hypot(TOSS.along_mps, TOSS.catch_vertical_mps)
    assert before == pytest.approx(0.7 / speed, rel=0.05)
    assert after == pytest.approx(0.7 / speed, rel=0.05)
    low = Toss(2.0, 1.8, 0.2, 3.0)
    assert find_passing(low)[1] < find_passing(low)[0]  # the floor ends it


def test_bad_releases_are_said():
    with refused("never comes up to the catch"):
        miss_catch(Toss(0.8, 0.5, 1.2, 2.0), speed_mps=-4)
    for find in (find_windows, find_passing):
        with refused("reach of more than 0 m"):
            find(TOSS, reach_m=0)
