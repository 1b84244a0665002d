"""Rotation sensors: a club that spins, a wrist on a cone, and a mover that only swings."""

import numpy as np
import pytest

from tempo_coach.observe.trace.inertial import find_turns
from tempo_coach.observe.trace.selection import pick
from tempo_coach.observe.trace.trace import Channel, Trace
from tests.generators import movement


def made(seed: int) -> tuple[np.ndarray, movement.Phase, np.ndarray]:
    instants = movement.ticks(np.random.default_rng(seed), 18, 0.7)
    return instants, movement.Phase(instants), movement.clock(instants[-1], 100)


def test_a_spinning_clubs_circles_are_its_whole_turns() -> None:
    _, phase, time = made(1)
    found = find_turns(pick(movement.sensor(1, phase, time), quantity="rotation"))
    places = phase(found.time)
    assert abs(found.time.size - (phase(time)[-1] - phase(time)[0])) <= 1
    assert np.std(places - np.rint(places - places[0]) - places[0]) < 0.01


def test_the_first_turn_of_a_spinning_club_begins_with_the_record() -> None:
    # twelve turns and a tenth, at rest before and after or not: thirteen whole turns from where the angle is 0
    instants = movement.ticks(np.random.default_rng(4), 12, 0.7, start=0.0)
    phase, time = movement.Phase(instants), np.arange(0, instants[-1] + 0.07, 0.01)
    spinning = pick(movement.sensor(4, phase, time), quantity="rotation")
    found = find_turns(spinning)
    assert found.time.size == 13
    np.testing.assert_allclose(phase(found.time), np.arange(13), atol=0.03)
    still = np.zeros((200, 3))
    later = np.arange(spinning.time.size + 400) / 100
    rested = find_turns(Trace(later, np.concatenate([still, spinning.values, still]), spinning.channels))
    assert abs(rested.time.size - 12) <= 1


@pytest.mark.parametrize(("lost", "bouts"), [(0.5, 1), (20.0, 2)])
def test_a_spinning_club_is_not_counted_on_through_a_long_gap(lost: float, bouts: int) -> None:
    _, phase, time = made(3)
    spinning = pick(movement.sensor(3, phase, time), quantity="rotation")
    later = spinning.time + np.where(spinning.time > 6, lost, 0.0)
    found = find_turns(Trace(later, spinning.values, spinning.channels))
    turned = phase(time)[-1] - phase(time)[0] + (lost / 0.7 if bouts == 1 else 0)
    assert abs(found.cycles.number - turned) <= 1
    assert len(found.cycles.span) == found.cycles.bout[-1] + 1 == bouts
    assert not ((found.time > 6.02) & (found.time < 6 + lost)).any() or bouts == 1


def test_a_wrist_that_cannot_spin_is_counted_on_its_cone() -> None:
    _, phase, time = made(2)
    found = find_turns(movement.cone(2, phase, time))
    places = phase(found.time)
    assert abs(found.time.size - 18) <= 1
    assert np.std(np.diff(places)) < 0.02
    assert np.abs(np.diff(places) - 1).max() < 0.1


@pytest.mark.parametrize("fault", ["extra", "missed", "long"])
def test_a_wrists_extra_turn_is_not_smoothed_away(fault: str) -> None:
    # as many turns as the generator made, less the one that an end may cut
    for seed in range(12):
        instants, turns = movement.break_at(movement.ticks(np.random.default_rng(seed), 20, 0.7), fault, 8)
        phase, time = movement.Phase(instants, turns), movement.clock(instants[-1] + 0.3, 100)
        found = find_turns(movement.cone(seed, phase, time))
        assert abs(found.time.size - turns[-1] - 1) <= 1


def test_a_swing_turns_to_and_fro_and_has_no_circles() -> None:
    time = movement.clock(15, 100)
    rate = 3 * np.cos(2 * np.pi * 0.8 * time)
    values = np.column_stack([0.2 * rate, rate, 0.01 * rate])
    found = find_turns(Trace(time, values, [Channel(f"g{a}", "rotation", a) for a in "xyz"]))
    assert found.time.size == 0
    assert found.cycles.time.size in {11, 12}


def test_rotation_is_asked_for() -> None:
    with pytest.raises(ValueError, match="rotation"):
        find_turns(movement.positions(np.arange(2.0), np.eye(2)))
