"""One mover under one roof: positions, turning rates, accelerations and single columns; its name and events."""

import numpy as np
import pytest

from tempo_coach.observe.trace.selection import pick
from tempo_coach.observe.trace.trace import Channel, Trace
from tempo_coach.observe.trace.tracked_body import name_body, observe, observe_low
from tests.generators import movement
from tests.observe.trace.test_circles import off
from tests.observe.trace.test_inertial_outward import made
from tests.refused import refused


def one(quantity: str, *names: str, point: str = "") -> Trace:
    time = movement.clock(10, 100)
    values = np.column_stack([np.sin(2 * np.pi * time + k) for k in range(len(names))])
    return Trace(time, values, [Channel(name, quantity, name[-1], point) for name in names])  # type: ignore[arg-type]  # a word of the test


def test_positions_have_circles_and_their_low_points_are_the_events() -> None:
    mills = movement.mills(2)
    mine = pick(mills.trace, point="first")
    found = observe(mine)
    assert (found.name, found.trace) == ("first", mine)
    assert found.cycles is found.circles.cycles
    np.testing.assert_array_equal(found.events, found.circles.time)
    assert np.median(np.abs(off(found.events, mills.circles["first"]))) < 0.002


def test_what_only_swings_has_the_starts_of_its_cycles_for_events() -> None:
    found = observe(one("position", "y"))
    assert found.circles.time.size == 0
    np.testing.assert_array_equal(found.events, found.cycles.time)
    np.testing.assert_allclose(np.diff(found.events), 1.0, atol=0.003)


def test_what_is_of_no_quantity_has_cycles_alone() -> None:
    found = observe(one("other", "stretch"))
    assert (found.circles.time.size, found.circles.sense.size) == (0, 0)
    np.testing.assert_allclose(np.diff(found.events), 1.0, atol=0.003)


def test_the_period_that_is_known_is_handed_on() -> None:
    for quantity in ("position", "rotation", "acceleration", "other"):
        names = ("ax", "ay", "az") if quantity in ("rotation", "acceleration") else ("ay",)
        assert observe(one(quantity, *names), period=2.0).cycles.rhythm.period == pytest.approx(2.0, rel=0.02)


def test_what_does_not_repeat_is_refused_of_every_quantity() -> None:
    time = movement.clock(10, 100)
    noise = np.random.default_rng(1).standard_normal((time.size, 3))
    for quantity in ("position", "rotation", "acceleration", "other"):
        channels = [Channel(axis, quantity, axis) for axis in "xyz"]  # type: ignore[arg-type]  # one of the words
        with refused("repeats"):
            observe(Trace(time, noise, channels))


def test_a_mover_has_its_points_name_or_those_of_its_columns() -> None:
    assert name_body(one("position", "left_x", "left_y", point="Zoë")) == "Zoë"
    assert name_body(one("position", "x", "höhe y")) == "x höhe y"


def test_low_points_are_looked_for_only_beside_a_turning_rate_without_them() -> None:
    _, phase, time = made(4)
    both = movement.sensor(4, phase, time)
    low = observe(pick(both, quantity="acceleration"))
    assert low.circles.zero == "low" and observe_low(both, low) is low
    mills = observe(pick(movement.mills(1).trace, point="first"))
    assert observe_low(both, mills) is mills


def test_an_accelerometer_that_shows_nothing_changes_nothing() -> None:
    _, phase, time = made(4)
    both = movement.sensor(4, phase, time)
    values = both.values.copy()
    shaken = [k for k, channel in enumerate(both.channels) if channel.quantity == "acceleration"]
    values[:, shaken] = np.random.default_rng(2).standard_normal((time.size, len(shaken)))
    rate = observe(pick(both, quantity="rotation"))
    assert observe_low(Trace(time, values, both.channels), rate) is rate
    elsewhere = [Channel(c.name, c.quantity, c.axis, "other" if k in shaken else c.point, c.unit)
                 for k, c in enumerate(both.channels)]  # fmt: skip
    assert observe_low(Trace(time, both.values, elsewhere), rate) is rate


def test_acceleration_alone_gives_the_period_and_the_count() -> None:
    instants, phase, time = made(3)
    found = observe(pick(movement.sensor(3, phase, time), quantity="acceleration"))
    assert np.median(found.cycles.periods) == pytest.approx(np.median(np.diff(instants)), rel=0.02)
    assert abs(found.events.size - 19) <= 1
    assert (found.circles.sense == 0).all()


def test_a_turning_rate_is_given_its_low_points_by_the_accelerometer_beside_it() -> None:
    _, phase, time = made(4)
    both = movement.sensor(4, phase, time)
    rate = observe(pick(both, quantity="rotation"))
    assert rate.circles.zero == "start"
    low = observe_low(both, rate)
    assert low.circles.zero == "low"
    np.testing.assert_allclose(low.events[2:6], movement.low_points(phase, time)[2:6], atol=0.012)
    alone = pick(both, quantity="rotation")
    assert observe_low(alone, rate) is rate
