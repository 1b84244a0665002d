"""The parabola of a toss: its exact formulas, and an independent integration of the motion."""

import math

import numpy as np
import pytest
from hypothesis import given

from tempo_coach.pattern.toss.relations import GRAVITY
from tempo_coach.pattern.toss.toss import Toss
from tests.pattern.tosses import WORKED, numbers, tosses


@pytest.mark.parametrize(("given_numbers", "expected"), WORKED)
def test_worked_tosses_to_the_printed_digits(given_numbers, expected):
    flight, distance, release, catch = given_numbers
    assert numbers(Toss(flight, release, catch, distance)) == pytest.approx(expected, abs=5.1e-7)


@pytest.mark.parametrize(("given_numbers", "_"), WORKED)
def test_the_parabola_is_what_an_adaptive_solver_integrates(given_numbers, _):
    # independent: scipy.integrate.solve_ivp (Dormand-Prince 8), its events dense
    from scipy.integrate import solve_ivp

    flight, distance, release, catch = given_numbers
    toss = Toss(flight, release, catch, distance)

    def at_top(_: float, state: np.ndarray) -> float:
        return float(state[3])

    def at_catch(_: float, state: np.ndarray) -> float:
        return float(state[1] - catch)

    at_top.direction = at_catch.direction = -1  # type: ignore[attr-defined]  # solve_ivp reads it from the function
    found = solve_ivp(
        lambda _, state: [state[2], state[3], 0.0, -GRAVITY],
        (0, 2 * flight),
        [0, release, toss.along_mps, toss.up_mps],
        events=(at_top, at_catch),
        method="DOP853",
        rtol=1e-11,
        atol=1e-12,
    )
    assert found.t_events[0][0] == pytest.approx(toss.apex_time, abs=1e-7)
    assert found.y_events[0][0][1] == pytest.approx(toss.apex_m, abs=1e-7)
    assert found.t_events[1][0] == pytest.approx(flight, abs=1e-7)
    assert found.y_events[1][0][[0, 3]] == pytest.approx([distance, toss.catch_vertical_mps], abs=1e-6)


@given(tosses())
def test_energy_and_horizontal_momentum_are_kept(toss):
    times = np.linspace(0, toss.flight, 9)
    along, height = toss.place_at(times)
    speeds_up = toss.up_mps - GRAVITY * times
    energy = (toss.along_mps**2 + speeds_up**2) / 2 + GRAVITY * height
    assert np.allclose(energy, energy[0], rtol=1e-12)
    assert np.allclose(np.diff(along), along[-1] / 8, rtol=1e-9)
    assert height[-1] == pytest.approx(toss.catch_m, abs=1e-9)
    assert height.max() <= toss.apex_m + 1e-9


def test_a_callers_nonsense_is_a_value_error():
    with pytest.raises(ValueError, match="finite"):
        Toss(math.nan, 1.0, 1.0, 0.0)
    with pytest.raises(ValueError, match="flight above 0"):
        Toss(0.0, 1.0, 1.0, 0.0)
