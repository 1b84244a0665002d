"""An accelerometer on a club shows its low points, however it was taped on."""

import numpy as np
import pytest

from tempo_coach.observe.trace.inertial import find_low_points
from tempo_coach.observe.trace.selection import pick
from tempo_coach.observe.trace.trace import Channel, Trace
from tests.generators import movement


def made(seed: int) -> tuple[np.ndarray, movement.Phase, np.ndarray]:
    instants = movement.ticks(np.random.default_rng(seed), 18, 0.7)
    return instants, movement.Phase(instants), movement.clock(instants[-1] + 0.3, 100)


def turned(trace: Trace, degrees: float, *, mirrored: bool = False) -> Trace:
    """The same sensor taped on in another way: turned about the club's axis of turning, or face down."""
    angle = np.radians(degrees)
    matrix = np.array([[np.cos(angle), 0, np.sin(angle)], [0, 1, 0], [-np.sin(angle), 0, np.cos(angle)]])
    if mirrored:
        matrix = matrix @ np.diag([1, -1, -1])
    return Trace(trace.time, trace.values @ matrix.T, trace.channels)


@pytest.mark.parametrize("mirrored", [False, True])
@pytest.mark.parametrize("degrees", [0, 50, 90, 180, 301])
def test_low_points_are_found_however_the_sensor_sits(degrees: float, mirrored: bool) -> None:
    # the low point is where the club points straight down: 0 of the generator's phase (exact)
    errors = []
    for seed in range(6):
        _, phase, time = made(seed)
        sensor = pick(movement.sensor(seed, phase, time), quantity="acceleration")
        found = find_low_points(turned(sensor, degrees, mirrored=mirrored))
        asked = movement.low_points(phase, time)
        assert found.zero == "low"
        near = np.abs(asked[:, None] - found.time)
        # every low point is there but one that the ends of the movement cut off
        assert (near.min(axis=1)[1:-1] < 0.05).all()
        errors.append(near.min(axis=1)[1:-1])
    assert np.median(np.concatenate(errors)) < 0.005


def test_a_swing_has_cycles_and_no_low_points() -> None:
    time = movement.clock(15, 100)
    swing = np.column_stack([2 * np.cos(2 * np.pi * 0.8 * time), 0.1 * time, 9.8 + 0 * time + 0.01 * np.cos(9 * time)])
    found = find_low_points(Trace(time, swing, [Channel(f"a{a}", "acceleration", a, "", "m/s²") for a in "xyz"]))
    assert found.time.size == 0
    assert found.zero == "mount"
    assert found.cycles.time.size in {11, 12}


def test_one_axis_is_not_enough() -> None:
    _, phase, time = made(2)
    sensor = movement.sensor(2, phase, time)
    found = find_low_points(Trace(time, sensor.values[:, 2:3], [sensor.channels[2]]))
    assert found.time.size == 0
    with pytest.raises(ValueError, match="accelerations"):
        find_low_points(pick(sensor, quantity="rotation"))
