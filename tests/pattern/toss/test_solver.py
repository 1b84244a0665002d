"""Any sufficient set of what is known gives the toss, and what nobody can throw is said."""

import json
import math

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from tempo_coach.pattern.toss.solver import solve_toss, tabulate_tosses
from tempo_coach.pattern.toss.toss import longest_flight, shortest_flight
from tempo_coach.report.words.errors import say_error
from tests.pattern.tosses import WORKED, numbers, tosses
from tests.refused import refused


@pytest.mark.parametrize(("given_numbers", "expected"), WORKED)
def test_worked_tosses_to_the_printed_digits(given_numbers, expected):
    flight, distance, release, catch = given_numbers
    toss = solve_toss(flight=flight, distance_m=distance, release_m=release, catch_m=catch)
    assert numbers(toss) == pytest.approx(expected, abs=5.1e-7)
    assert toss.assumed == ()


@pytest.mark.parametrize(
    ("tempo", "counts", "rise"),
    [(120, 4, 4.903325), (120, 3, 2.758120), (100, 4, 7.060788), (132, 4, 4.052335)],
)
def test_level_tosses_rise_by_an_eighth_of_g_times_flight_squared(tempo, counts, rise):
    # exact: H = g T²/8
    toss = solve_toss(counts=counts, tempo_bpm=tempo, release_m=1.5, catch_m=1.5)
    assert toss.rise_m == pytest.approx(rise, abs=5.1e-7)
    assert toss.tempo_bpm == pytest.approx(tempo)


@pytest.mark.parametrize(("rise", "flight"), [(2, 1.277320), (4, 1.806403), (6, 2.212383), (8, 2.554640)])
def test_height_gives_the_flight_and_with_a_tempo_the_counts(rise, flight):
    # exact: T = sqrt(8 H/g)
    toss = solve_toss(rise_m=rise, tempo_bpm=120, release_m=1.5, catch_m=1.5)
    assert toss.flight == pytest.approx(flight, abs=5.1e-7)
    assert toss.counts == pytest.approx(2 * flight, abs=2e-6)
    assert solve_toss(rise_m=rise, counts=4, release_m=1.5, catch_m=1.5).tempo_bpm == pytest.approx(240 / flight, 1e-6)


def test_the_height_of_the_catch_changes_the_flight():
    # exact: later root of catch - release = 8 T - g T²/2
    lower = solve_toss(speed_mps=8, angle_deg=90, release_m=1.8, catch_m=1.2)
    higher = solve_toss(speed_mps=8, angle_deg=90, release_m=1.2, catch_m=1.8)
    assert lower.flight == pytest.approx(1.703383, abs=5.1e-7)
    assert higher.flight == pytest.approx(1.552739, abs=5.1e-7)
    with refused(r"tops out at 3\.3.*catch at 3\.36 m or lower"):
        solve_toss(speed_mps=8, angle_deg=90, release_m=0.1, catch_m=3.5)


def test_a_metre_a_second_more_is_two_tenths_of_a_second_longer():
    # exact: dT/dv = 2/g for a level vertical toss
    flights = [solve_toss(speed_mps=v, release_m=1.5, catch_m=1.5).flight for v in (8, 9)]
    assert flights[1] - flights[0] == pytest.approx(0.203943, abs=5.1e-7)


WAYS = [
    ("flight", "release_m", "catch_m", "distance_m"),
    ("rise_m", "release_m", "catch_m", "distance_m"),
    ("apex_m", "release_m", "catch_m", "distance_m"),
    ("apex_m", "flight", "catch_m", "distance_m"),
    ("rise_m", "flight", "release_m", "distance_m"),
    ("rise_m", "flight", "catch_m", "angle_deg"),
    ("speed_mps", "angle_deg", "release_m", "catch_m"),
    ("speed_mps", "angle_deg", "flight", "catch_m"),
    ("speed_mps", "angle_deg", "distance_m", "release_m"),
    ("angle_deg", "distance_m", "release_m", "catch_m"),
    ("angle_deg", "flight", "release_m", "catch_m"),
    ("angle_deg", "flight", "distance_m", "release_m"),
    ("speed_mps", "flight", "release_m", "catch_m"),
    ("speed_mps", "flight", "distance_m", "catch_m"),
    ("speed_mps", "rise_m", "release_m", "catch_m"),
]


@pytest.mark.parametrize("way", WAYS, ids="-".join)
@given(tosses())
def test_any_sufficient_set_gives_the_rest(way, toss):
    assume(toss.rise_m > 0.05 and toss.speed_mps < 40)  # no arm throws faster, and it is refused
    again = solve_toss(**{name: getattr(toss, name) for name in way})
    assert numbers(again) == pytest.approx(numbers(toss), rel=1e-6, abs=1e-6)
    assert again.assumed == ()


@given(tosses())
def test_of_two_ways_to_throw_with_a_speed_the_high_one_is_meant(toss):
    ends = {"release_m": toss.release_m, "catch_m": toss.catch_m, "distance_m": toss.distance_m}
    assume(toss.speed_mps**2 / (2 * 9.80665) < 15)  # else the high one would leave the hall
    again = solve_toss(speed_mps=toss.speed_mps, **ends)
    assert again.speed_mps == pytest.approx(toss.speed_mps)
    assert again.angle_deg >= toss.angle_deg - 1e-3


@given(tosses(), st.sampled_from([("counts", "tempo_bpm"), ("counts", "flight"), ("tempo_bpm", "flight")]))
def test_two_of_counts_tempo_and_flight_give_the_third(toss, pair):
    assume(20 <= (toss.tempo_bpm or 0) <= 400)
    ends = {"release_m": toss.release_m, "catch_m": toss.catch_m, "distance_m": toss.distance_m}
    again = solve_toss(**{name: getattr(toss, name) for name in pair}, **ends)
    assert (again.counts, again.tempo_bpm, again.flight) == pytest.approx((toss.counts, toss.tempo_bpm, toss.flight))


def test_what_nobody_gave_is_assumed_and_said():
    toss = solve_toss(counts=4, tempo_bpm=120)
    assert toss.assumed == ("release", "catch", "distance")
    assert solve_toss(counts=4, tempo_bpm=120, apex_m=6.0, catch_m=1.0).assumed == ("distance",)
    assert solve_toss(speed_mps=9, angle_deg=80, distance_m=3).assumed == ("release",)


def test_json_has_the_names_that_are_promised():
    found = solve_toss(counts=4, tempo_bpm=120, release_m=1.8, catch_m=1.2, distance_m=3).to_dict()
    promised = ["flight_s", "speed_mps", "angle_deg", "apex_m", "rise_m", "apex_s", "catch_vertical_mps", "with_drag"]
    assert set(promised) <= set(found)
    assert found["flight_s"] == 2
    assert found["apex_m"] == pytest.approx(found["rise_m"] + 1.8)
    assert found["with_drag"] is None
    assert json.loads(json.dumps(found)) == found


@pytest.mark.parametrize(
    ("wanted", "said"),
    [
        ({"flight": 10}, r"flight: .*rise 122 m above the release.*longest is 3\.88 s"),
        ({"counts": 8, "tempo_bpm": 60}, r"longest is 3\.88 s \(3\.88 counts at 60 beats a minute\)"),
        ({"counts": 8, "flight": 8}, r"longest is 3\.88 s, 8 counts at 124 beats a minute"),
        ({"flight": 0.2}, r"thrown downwards.*shortest that goes up and comes down is 0\.35 s"),
        ({"flight": 0.2, "release_m": 1.2, "catch_m": 1.8}, r"caught while it still rises.*0\.35 s"),
        ({"flight": 2, "release_m": -1}, "release of more than 0 and up to 3.5 m above the floor, got -1"),
        ({"flight": 2, "catch_m": 0}, "catch of more than 0 and up to 3.5 m above the floor, got 0"),
        ({"flight": 2, "distance_m": 200}, r"distance of 0 to 18\.4 m.*got 200.*nearest is 18\.4"),
        ({"flight": 2, "distance_m": math.nan}, "distance of 0 to 18.4 m.*got nan"),
        ({"flight": 2, "angle_deg": 95}, "got 95. the nearest is 90"),
        ({"rise_m": 0.2, "release_m": 0.5}, r"tops out at 0\.70 m.*cannot be caught at 1\.20 m"),
        ({"apex_m": 1.0, "catch_m": 1.2, "flight": 2}, r"tops out at 1\.00 m.*catch at 1\.00 m or lower"),
        ({"apex_m": 1.0, "counts": 4}, r"not above its release at 1\.80 m"),
        ({"apex_m": 9, "catch_m": 1, "flight": 1}, r"falling from 9\.00 m.*highest is 5\.90 m"),
        ({"angle_deg": 5, "distance_m": 3, "release_m": 1.2, "catch_m": 1.8}, r"flattest is 21\.8 degrees"),
        ({"speed_mps": 3, "distance_m": 5}, r"slowest is 6\.60 m/s"),
        ({"speed_mps": 2, "flight": 1, "distance_m": 4}, r"asks for 4\.00 m/s in one direction.*slowest is 4\.00"),
        ({"counts": 4, "tempo_bpm": 120, "rise_m": 9}, r"catch of more than 0 and up to 3\.5 m.*would have to be"),
        ({"flight": 2, "rise_m": 6, "release_m": 1.8, "catch_m": 1.2}, r"rise 6 does not go with.*follows rise 4\.60"),
        ({"tempo_bpm": 1000, "counts": 4}, "tempo of 20 to 400 beats a minute, got 1000"),
        ({"tempo_bpm": 120}, "enough to tell how long the toss flies, got tempo"),
        ({}, "got nothing"),
    ],
)
def test_what_nobody_can_throw_is_said_with_the_nearest(wanted, said):
    with refused(said):
        solve_toss(**wanted)


@pytest.mark.parametrize("lower", [-0.6, 0.6])
def test_the_nearest_that_is_named_can_be_thrown(lower):
    ends = {"release_m": 1.5, "catch_m": 1.5 + lower}
    for nearest in (shortest_flight(**ends), longest_flight(**ends)):
        toss = solve_toss(flight=nearest, **ends)
        assert toss.catch_vertical_mps <= 1e-6
        assert toss.up_mps >= -1e-6
    slowest = solve_toss(speed_mps=6.602, distance_m=5)
    assert slowest.angle_deg == pytest.approx(42.0, abs=2)


def test_a_table_names_what_is_beyond_reach():
    table, beyond = tabulate_tosses(tempo_bpm=72, distance_m=2)
    assert [toss.counts for toss in table] == [2, 3, 4]
    assert [counts for counts, _ in beyond] == [5, 6, 7, 8]
    assert "4.66 counts at 72" in say_error(beyond[0][1])
    with refused("distance"):
        tabulate_tosses(tempo_bpm=120, distance_m=-1)
