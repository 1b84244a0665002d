"""Lag between two movers, and where circles fall."""

from types import SimpleNamespace

import numpy as np
import pytest

from tempo_coach.observe.trace.selection import pick
from tempo_coach.observe.trace.trace import Channel, Trace
from tempo_coach.observe.trace.tracked_body import observe
from tempo_coach.reasons import Reason, Why
from tempo_coach.score.measures.phase import summarise_lag
from tempo_coach.score.trace.body_lag import event_lags, measure_lag
from tempo_coach.score.trace.study import study
from tests.generators import movement


def test_discrete_lags_over_the_local_period() -> None:
    # exact
    lags, steps = event_lags(np.array([0.0, 0.58, 1.19, 1.77, 2.4]), np.array([0.145, 0.728, 1.341, 1.928]))
    np.testing.assert_allclose(lags, [90, 87.34426, 93.72414, 90.28571], atol=0.6)
    np.testing.assert_allclose(steps, [0.58, 0.61, 0.58, 0.63])


@pytest.mark.parametrize("lag", [0.25, 0.5, 0.75])
def test_the_second_club_trails_the_first_as_it_was_made(lag: float) -> None:
    made = movement.mills(6, lag=lag, n=30)
    bodies = [observe(pick(made.trace, point=name)) for name in ("first", "second")]
    found = measure_lag(bodies[1], bodies[0]).lag
    true = summarise_lag(event_lags(made.circles["first"], made.circles["second"])[0], period=0.6)
    assert (found.degrees - true.degrees + 180) % 360 - 180 == pytest.approx(0, abs=1)
    assert found.seconds == pytest.approx(found.degrees / 360 * 0.6, rel=0.03)
    # both clubs of a mill have one period (common practice)
    assert np.median(bodies[0].cycles.periods) == pytest.approx(np.median(bodies[1].cycles.periods), rel=0.01)


def test_clocks_that_are_50_ppm_apart_move_a_lag_by_less_than_a_degree() -> None:
    made = movement.mills(6, n=30)
    first, second = (pick(made.trace, point=name) for name in ("first", "second"))
    late = Trace(second.time * 1.00005, second.values, second.channels)
    plain = measure_lag(observe(second), observe(first)).lag.degrees
    assert measure_lag(observe(late), observe(first)).lag.degrees == pytest.approx(plain, abs=1)


def test_a_circle_left_out_gives_no_lag_there() -> None:
    reference = np.array([0.0, 0.6, 1.2, 2.4, 3.0])
    lags, _ = event_lags(reference, reference[:-1] + 0.3)
    np.testing.assert_allclose(lags, 180)
    assert lags.size == 3


def test_nothing_to_compare_gives_nothing() -> None:
    assert event_lags(np.array([1.0]), np.array([1.0]))[0].size == 0
    assert event_lags(np.array([0.0, 1.0]), np.empty(0))[0].size == 0


def test_the_places_of_the_ropes_wrist_circles_come_out_as_they_were_made() -> None:
    # one at the floor, one as the arm is almost up, one as it starts down (common practice)
    made = movement.rope(2)
    places = study(made.trace).places
    assert len(places) == 3
    found = np.sort([(place.at + 0.1) % 1 - 0.1 for place in places])
    np.testing.assert_allclose(found, [0.0, 0.41, 0.62], atol=0.01)
    assert all(0.003 < place.sd < 0.03 for place in places)


def test_a_study_takes_the_next_point_as_the_second_mover() -> None:
    found = study(movement.mills(2).trace)
    assert [mover.name for mover in found.bodies] == ["first", "second"]
    assert study(movement.mills(2).trace, point="second").lags[0].to == "second"
    assert study(movement.mills(2).trace, against=["second"]).lags[0].of == "second"


def two_sensors(lag: float, *, turned: float = 0.0, parts: slice = slice(None)) -> Trace:
    """Sensors on two clubs in mills; the second one is taped on turned by so many degrees."""
    lead = movement.ticks(np.random.default_rng(1), 24, 0.6)
    one, two = movement.Phase(lead), movement.Phase(lead + lag * 0.6)
    time = movement.clock(lead[-1] + 0.6, 100)
    angle = np.radians(turned)
    matrix = np.array([[np.cos(angle), 0, np.sin(angle)], [0, 1, 0], [-np.sin(angle), 0, np.cos(angle)]])
    first, second = movement.sensor(1, one, time), movement.sensor(2, two, time)
    columns = [first.values[:, parts], (second.values.reshape(-1, 2, 3) @ matrix.T).reshape(-1, 6)[:, parts]]
    channels = [
        Channel(f"{name}_{each.name}", each.quantity, each.axis, name, each.unit)
        for name in ("first", "second")
        for each in first.channels[parts]
    ]
    return Trace(time, np.column_stack(columns), channels)


@pytest.mark.parametrize("turned", [0, 60, 180])
@pytest.mark.parametrize("lag", [0.25, 0.5])
def test_two_sensors_that_sit_differently_still_show_the_lag_of_their_clubs(lag: float, turned: float) -> None:
    for trace in (two_sensors(lag, turned=turned), two_sensors(lag, turned=turned, parts=slice(0, 3))):
        (found,) = study(trace, against=["second"]).lags
        assert (found.lag.degrees - 360 * lag + 180) % 360 - 180 == pytest.approx(0, abs=1.5)
        assert found.caution is found.reason is None


def test_a_turning_rate_alone_tells_no_lag_and_says_why() -> None:
    (found,) = study(two_sensors(0.5, parts=slice(3, 6))).lags
    assert np.isnan(found.lag.degrees)
    assert found.lag.sd > 0
    assert found.reason == Reason(Why.TURNING_RATE)


def test_two_clubs_that_go_at_tempi_of_their_own_keep_no_lag() -> None:
    trace = movement.mills(6, n=30).trace
    first, second = (pick(trace, point=name) for name in ("first", "second"))
    hurried = Trace(second.time * 0.93, second.values, second.channels)
    found = measure_lag(observe(hurried), observe(first))
    assert found.reason.code is Why.NO_STEADY_LAG
    assert np.isnan([found.lag.degrees, found.lag.seconds, found.lag.half_interval]).all()
    assert found.lag.resultant < 0.3


def swinging(tilt: float) -> Trace:
    time = movement.clock(20, 100)
    swing, angle = np.cos(2 * np.pi * 0.8 * time), np.radians(tilt)
    other = np.cos(2 * np.pi * (0.8 * time - 0.02))
    columns = [swing, 0.1 * swing, other * np.cos(angle), other * np.sin(angle)]
    channels = [
        Channel(f"{name}_a{axis}", "acceleration", axis, name, "m/s²") for name in ("left", "right") for axis in "xy"
    ]
    return Trace(time, np.column_stack(columns), channels)


def test_limbs_whose_sensors_sit_alike_are_told_with_caution_and_others_not_at_all() -> None:
    (alike,) = study(swinging(5)).lags
    assert alike.lag.degrees == pytest.approx(7.2, abs=0.5)
    assert alike.caution == Reason(Why.SEAT_SHIFTS)
    (apart,) = study(swinging(70)).lags
    assert np.isnan(apart.lag.degrees)
    assert apart.reason.code is Why.TILTED


def axes(first, second, *, zero="mount", circles=(), quantity=("acceleration", "acceleration")):
    """Two movers of which only what says how they sit is there."""
    return [
        SimpleNamespace(
            name=name,
            circles=SimpleNamespace(zero=one, time=np.array(turns, dtype=float), carried=False),
            trace=SimpleNamespace(quantity=kind),
            cycles=SimpleNamespace(direction=np.array(direction, dtype=float)),
            events=np.arange(12.0) + (0.25 if name == "of" else 0),
        )
        for name, direction, one, turns, kind in zip(
            ("of", "to"), (first, second), np.broadcast_to(zero, 2), (circles, ()), quantity, strict=True
        )
    ]


@pytest.mark.parametrize(
    ("bodies", "reason"),
    [
        (axes([1, 0], [1, 0]), None),
        (axes([1, 0], [-1, 0]), None),  # an axis has no sign
        (axes([1, 0], [np.cos(np.radians(19.9)), np.sin(np.radians(19.9))]), None),
        (axes([1, 0], [np.cos(np.radians(20.1)), np.sin(np.radians(20.1))]), (Why.TILTED, 20)),
        (axes([1, 0], [0, 1]), (Why.TILTED, 90)),
        (axes([1, 0], [1, 0, 0]), (Why.OTHER_AXES,)),
        (axes([1, 0], [0, 1], zero="low"), None),
        (axes([1, 0], [1, 0], zero=("low", "mount")), (Why.OTHER_PLACE,)),
        (axes([1, 0], [1, 0], quantity=("acceleration", "rate")), (Why.OTHER_PLACE,)),
        (axes([1, 0], [1, 0], circles=[1.0]), (Why.CONE,)),
        (axes([1, 0], [1, 0], circles=[1.0])[::-1], (Why.CONE,)),
        (axes([1, 0], [1, 0], zero=("start", "low")), (Why.TURNING_RATE,)),
    ],
)
def test_why_a_lag_cannot_be_told(bodies, reason):
    found = measure_lag(*bodies, asked_deg=80)
    assert (found.reason is None) == (reason is None)
    if reason:
        assert found.reason.code is reason[0] and found.reason.args == pytest.approx(reason[1:], abs=0.2)
    told = not reason
    numbers = (found.lag.degrees, found.lag.error, found.lag.seconds, found.lag.half_interval)
    assert all(np.isfinite(number) == told for number in numbers)
    assert found.lag.n == 11 and np.isfinite(found.lag.sd)
    assert (found.caution is not None) == (told and bodies[0].circles.zero != "low")
    if told:
        assert numbers[:3] == pytest.approx((90, 10, 0.25)) and found.asked_deg == 80


def test_a_step_is_a_pause_from_half_as_long_again_on() -> None:  # exact in binary
    reference = np.array([0, 1, 2, 3.5, 4.5, 5.9375])
    lags, steps = event_lags(reference, np.array([-0.5, 0.5, 1.25, 3.0, 3.5, 5.0, 5.9375, 7]))
    np.testing.assert_allclose(steps, [1, 1, 1, 1.4375])
    np.testing.assert_allclose(lags, [180, 90, 0, 0.5 / 1.4375 * 360])


def test_a_lag_leaves_out_a_turn_and_the_steps_beside_it() -> None:
    reference = np.cumsum([0.0, *[1.0] * 9, 1.4, *[1.0] * 9])
    target = reference[:-1] + 0.25
    target[[8, 10]] += 0.2  # who stops, and starts again, is not beside the other as usual
    lags, _ = event_lags(reference, target)
    np.testing.assert_allclose(lags, np.full(16, 90.0))


def test_a_rope_and_the_hand_that_swings_it_are_compared_by_their_whole_cycles() -> None:
    # the rope's end has three circles a cycle and the hand none; both rise and fall with the arm at the same time
    made = movement.swung_rope(1)
    rope, hand = (observe(pick(made.trace, point=name)) for name in ("rope", "hand"))
    assert rope.circles.carried and not hand.circles.carried
    for of, to in ((rope, hand), (hand, rope)):
        found = measure_lag(of, to)
        assert found.reason is None and found.level == "cycle"
        assert found.lag.degrees == pytest.approx(0, abs=6)
        assert found.lag.n >= 15
    carried = observe(pick(movement.rope(1).trace))
    assert measure_lag(carried, carried).level == "circle"
