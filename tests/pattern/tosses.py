"""Tosses to hold the parabola against: worked ones, and any that can be thrown."""

from __future__ import annotations

from hypothesis import strategies as st

from tempo_coach.pattern.toss.toss import Toss, longest_flight, shortest_flight

# flight s, distance m, release m, catch m: speed, angle, apex above the floor, its time, vertical speed at the catch.
# Exact: vz = (catch - release)/T + g T/2, vx = distance/T, g = 9.80665 (3rd CGPM, 1901), worked out apart from here.
WORKED = [
    ((2.0, 3.0, 1.8, 1.2), (9.624261, 81.033548, 6.407914, 0.969409, -10.10665)),
    ((2.0, 4.0, 1.2, 1.8), (10.302639, 78.806386, 6.407914, 1.030591, -9.50665)),
    ((2.4, 8.0, 2.0, 0.3), (11.551056, 73.227403, 8.236369, 1.127770, -12.476313)),
    ((1.2, 2.0, 1.5, 1.5), (6.115482, 74.184987, 3.265197, 0.6, -5.88399)),
]


def numbers(toss: Toss) -> tuple[float, ...]:
    return toss.speed_mps, toss.angle_deg, toss.apex_m, toss.apex_time, toss.catch_vertical_mps


@st.composite
def tosses(draw: st.DrawFn) -> Toss:
    release, catch = draw(st.floats(0.1, 3.0)), draw(st.floats(0.1, 3.0))
    ends = {"release_m": release, "catch_m": catch}
    low, high = shortest_flight(**ends) + 0.1, longest_flight(**ends) - 0.1
    return Toss(draw(st.floats(low, high)), release, catch, draw(st.floats(0.5, 12)), draw(st.floats(1, 8)))
