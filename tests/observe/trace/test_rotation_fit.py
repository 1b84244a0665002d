"""Fits to the whole record reach what noise allows."""

import numpy as np
import pytest

from tests.generators import movement
from tests.generators.rotation_fit import bound_frequency, bound_phase, fit_rotations


@pytest.mark.parametrize(("n", "frequency", "bounds"), [
    (1000, 2.0, (0.000246562, 0.00447214)),
    (500, 1.5, (0.000697383, 0.00632456)),
])  # fmt: skip
def test_frequency_and_phase_come_near_the_bound(n: int, frequency: float, bounds: tuple[float, float]) -> None:
    # Kay 1993 (formula from memory), equal to the inverse Fisher matrix
    assert bound_frequency(1, 0.1, n, 100) == pytest.approx(bounds[0], rel=1e-5)
    assert bound_phase(1, 0.1, n) == pytest.approx(bounds[1], rel=1e-5)
    errors = []
    for seed in range(120):
        trace, phase = movement.circle(seed, n=n, frequency=frequency)
        (found,) = fit_rotations(trace.time, trace.values[:, 0])
        errors.append((found.frequency_hz - frequency, (found.phase - phase + np.pi) % (2 * np.pi) - np.pi))
    assert np.std(errors, axis=0)[0] < 1.2 * bounds[0]
    assert np.std(errors, axis=0)[1] < 1.2 * bounds[1]


def test_two_rotations_have_their_own_sense() -> None:
    time = np.arange(1000) / 100
    path = np.exp(2j * np.pi * 0.5 * time) + 0.25 * np.exp(-2j * np.pi * 2.5 * time)
    big, small = fit_rotations(time, path, count=2)
    assert big.frequency_hz == pytest.approx(0.5, abs=1e-6)
    assert small.frequency_hz == pytest.approx(-2.5, abs=1e-6)
    assert (big.radius, small.radius) == pytest.approx((1, 0.25), abs=1e-6)


def test_two_rotations_of_nearly_one_speed_are_not_told_apart() -> None:
    time = np.arange(300) / 100
    path = np.exp(2j * np.pi * 1.0 * time) + 0.5 * np.exp(2j * np.pi * 1.1 * time)
    with pytest.raises(ValueError, match="told apart"):
        fit_rotations(time, path, count=2)
