"""Places of circles in their cycle on cycles made by hand, and what is said where a part of a study cannot be had."""

from types import SimpleNamespace

import numpy as np
import pytest

from tempo_coach.errors import CoachError
from tempo_coach.observe.trace.trace import Channel, Trace
from tempo_coach.reasons import Why
from tempo_coach.score.trace.study import find_places, study
from tests.generators import movement
from tests.refused import refused


def circles(*cycles, carried=True):
    """Circles at these places of cycles of a second."""
    number = np.array([k for k, places in enumerate(cycles) for _ in places], dtype=int)
    place = np.array([place for places in cycles for place in places], dtype=float)
    span = np.array([[0.0, len(cycles)]])
    return SimpleNamespace(
        carried=carried, zero="low", cycle=number, place=place, time=number + place, cycles=SimpleNamespace(span=span)
    )


def test_places_are_circular_means_in_order_and_the_cut_cycles_at_the_ends_do_not_count():
    # the first circle lies about the low point: 0.98 and 0.02 make 0
    found = find_places(circles([0.3], [0.98, 0.5], [0.02, 0.6], [0.98, 0.5], [0.02, 0.6], [0.4]))
    assert [(place.at + 0.5) % 1 - 0.5 for place in found] == pytest.approx([0.55, 0.0], abs=1e-12) or [
        (place.at + 0.5) % 1 - 0.5 for place in found
    ] == pytest.approx([0.0, -0.45], abs=1e-12)
    assert [place.n for place in found] == [4, 4]
    # circular SD of a half each at +-a: sqrt(-2 ln cos a), over the turn (exact)
    for place, apart in zip(sorted(found, key=lambda place: place.sd), (0.02, 0.05), strict=True):
        expected = np.sqrt(-2 * np.log(np.cos(2 * np.pi * apart))) / (2 * np.pi)
        assert place.sd == pytest.approx(expected)


def test_cycles_with_another_number_of_circles_and_stretches_left_out_do_not_count():
    made = circles([0.1], [0.125, 0.625], [0.1, 0.3, 0.5], [0.25, 0.75], [0.375, 0.875], [0.1])
    assert [place.at for place in find_places(made)] == pytest.approx([0.25, 0.75])
    # the middle of the circles decides, the ends of a stretch being inside it
    assert [place.at for place in find_places(made, without=[(3.45, 3.55)])] == pytest.approx([0.25, 0.75])
    for stretch in ((3.5, 4.4), (3.3, 3.5), (3.45, 3.55)):
        assert [place.n for place in find_places(made, without=[stretch])] == [2, 2]


def test_where_nothing_can_be_placed():
    assert find_places(circles([0.1], [0.2], [0.3], carried=False)) == ()
    assert find_places(circles([0.1], [0.2])) == ()
    assert find_places(circles([0.1], [0.2], [0.3]), without=[(0, 9)]) == ()
    assert find_places(circles()) == ()


def test_second_point_that_does_nothing_is_left_out_unless_it_was_asked_for():
    made = movement.mills(2)
    still = Trace(
        made.trace.time,
        np.column_stack([made.trace.values[:, :2], np.ones((made.trace.time.size, 2))]),
        made.trace.channels,
    )
    found = study(still)
    assert [mover.name for mover in found.bodies] == ["first"] and found.lags == ()
    assert found.left_out[-1].code is Why.NO_SECOND
    with pytest.raises(CoachError):
        study(still, against=["second"])


def test_what_only_flies_has_no_cycles_and_what_does_nothing_is_refused():
    thrown = study(movement.toss(1).trace)
    assert len(thrown.tossed) == 1 and thrown.bodies == thrown.places == thrown.lags == thrown.uneven == ()
    assert thrown.left_out[-1].code is Why.NO_CYCLES
    with refused("it only flies"):
        _ = thrown.main
    time = np.arange(400) / 100
    for still in (np.ones(400), time):  # it stands, or goes its way
        with pytest.raises(CoachError):
            study(
                Trace(
                    time, np.column_stack([still, still]), [Channel(axis, "position", axis, unit="m") for axis in "xy"]
                )
            )


def test_study_of_a_sensor_looks_for_no_flights():
    time = movement.clock(20, 100)
    trace = movement.sensor(1, movement.Phase(movement.ticks(np.random.default_rng(1), 24, 0.6)), time)
    assert study(trace).tossed == ()


def test_lags_and_flags_of_a_study_are_those_of_its_movers():
    found = study(movement.mills(2, lag=0.25, fault="long").trace, asked_deg=90.0)
    (lag,) = found.lags
    assert (lag.of, lag.to, lag.asked_deg) == ("second", "first", 90)
    assert lag.lag.degrees == pytest.approx(90, abs=3)
    assert {name for name, flag in found.uneven} == {"first", "second"}


def test_position_without_an_upright_axis_flies_nowhere_and_says_so():
    made = movement.mills(2)
    sideways = Trace(made.trace.time, made.trace.values[:, :1], [Channel("x", "position", "x", unit="m")])
    assert any(reason.code is Why.NO_FLIGHTS for reason in study(sideways).left_out)


@pytest.mark.parametrize("fault", ["", "extra"])
def test_places_are_those_of_the_first_mover_and_without_its_own_broken_cycles(fault):
    rope = movement.rope(3, fault=fault).trace
    turn = 2 * np.pi * rope.time / 0.7
    channels = [Channel(f"{p}_{a}", "position", a, p, unit="m") for p in ("wrist", "foot") for a in "xy"]
    both = Trace(rope.time, np.column_stack([rope.values, np.sin(turn), np.cos(turn)]), channels)
    found = study(both)
    assert [mover.name for mover in found.bodies] == ["wrist", "foot"]
    assert found.places == study(rope).places and len(found.places) == 3


def dial(periods, timing_sd, *, unsure=()):
    """What a film without markers gives: it turns once a cycle, evenly within each."""
    marks = np.concatenate([[0.0], np.cumsum(periods)])
    time = np.arange(0, marks[-1], 1 / 30)
    turn = 2 * np.pi * np.interp(time, marks, np.arange(marks.size))
    sure = np.ones(time.size)
    for start, end in unsure:
        sure[(time > start) & (time < end)] = 0
    channels = [Channel(f"her {axis} (px)", "position", axis, "her", "px") for axis in "xy"]
    channels.append(Channel("her confidence", "other", "", "her confidence"))
    values = np.column_stack([90 * np.sin(turn), -90 * np.cos(turn), sure])
    return Trace(time, values, channels, timing_sd={"her": timing_sd})


def test_a_dial_has_no_flights_and_no_uneven_cycle_that_its_noise_could_make():
    periods = np.full(20, 0.9)
    periods[9] += 0.08
    told = study(dial(periods, 0.005))
    assert [(flag.kind, flag.first) for _, flag in told.uneven] == [("long", 8)]  # the first begins at its second mark
    assert not told.tossed
    assert not study(dial(periods, 0.020)).uneven
    assert not study(dial(periods, 0.005, unsure=[(8.5, 8.7)])).uneven
    # without the camera's motion nothing is known of a single cycle
    unknown = study(dial(periods, np.inf))
    assert not unknown.uneven and Why.CAMERA_UNKNOWN_UNMARKED in [reason.code for reason in unknown.left_out]
