"""The course of phase: what an offset does to the analytic phase, and that centring takes it away."""

import numpy as np
import pytest
from scipy.signal import hilbert

from tempo_coach.observe.trace.selection import pick
from tempo_coach.observe.trace.trace import Channel, Trace
from tempo_coach.observe.trace.tracked_body import observe
from tempo_coach.score.measures.circular import circular_sd, mean_direction, resultant_length
from tempo_coach.score.trace.body_lag import analytic_phase, centre_cycles, follow_phase, measure_lag
from tests.generators import movement

TIME = np.arange(40_000) / 2000  # twenty whole cycles of a second
FIRST = np.cos(2 * np.pi * TIME)
SECOND = np.sin(2 * np.pi * TIME)


@pytest.mark.parametrize(("offset", "false_sd"), [(0.2, 8.154294), (0.5, 21.137124), (1.0, 54.450656)])
def test_an_offset_on_one_of_two_makes_a_false_spread_and_centring_takes_it_away(
    offset: float, false_sd: float
) -> None:
    # 90° apart, the offset a part of the amplitude: the mean stays, the circular SD is false (exact)
    left_on = analytic_phase(FIRST) - analytic_phase(SECOND + offset)
    assert mean_direction(left_on) == pytest.approx(90, abs=0.1)
    assert circular_sd(resultant_length(left_on)) == pytest.approx(false_sd, rel=2e-3)
    starts = np.arange(0.25, 20, 1.0)
    centred = analytic_phase(FIRST) - analytic_phase(centre_cycles(TIME, SECOND + offset, starts))
    assert mean_direction(centred) == pytest.approx(90, abs=0.01)
    assert circular_sd(resultant_length(centred)) < 0.05


def test_a_slow_drift_is_centred_too() -> None:
    drift = 0.05 * TIME
    centred = centre_cycles(TIME, SECOND + drift, np.arange(0.25, 20, 1.0))
    inner = (TIME > 2) & (TIME < 18)
    assert np.abs(centred - SECOND)[inner].max() < 0.03


@pytest.mark.parametrize("lag", [0.25, 0.5, 0.75])
def test_the_course_lies_where_the_lags_do(lag: float) -> None:
    made = movement.mills(6, lag=lag, n=30)
    second, first = (observe(pick(made.trace, point=name)) for name in ("second", "first"))
    time, degrees = follow_phase(second, first)
    assert (mean_direction(degrees) - measure_lag(second, first).lag.degrees + 180) % 360 - 180 == pytest.approx(
        0, abs=2
    )
    # a cycle is cut off at each end
    assert time[0] > first.cycles.time[0] + 0.3
    assert time[-1] < first.cycles.time[-1]


def test_an_offset_of_one_point_does_not_show() -> None:
    made = movement.mills(6, lag=0.25, n=30)
    moved = Trace(made.trace.time, made.trace.values + np.array([0, 0, 3.0, -2.0]), made.trace.channels)
    courses = [
        follow_phase(*(observe(pick(trace, point=name)) for name in ("second", "first")))[1]
        for trace in (made.trace, moved)
    ]
    np.testing.assert_allclose(courses[0], courses[1], atol=1e-6)


def test_too_few_cycles_have_no_course() -> None:
    made = movement.mills(6, lag=0.25, n=2)
    second, first = (observe(pick(made.trace, point=name)) for name in ("second", "first"))
    assert [one.size for one in follow_phase(second, first)] == [0, 0]


def test_nothing_to_centre_by_is_centred_as_a_whole() -> None:
    np.testing.assert_allclose(centre_cycles(TIME, SECOND + 3, np.empty(0)), SECOND, atol=1e-6)


def test_each_cycle_is_centred_by_its_own_middle() -> None:  # exact
    time = np.arange(8.0)
    signal = np.array([0, 2, 1, 0, 10, 14, 12, 10.0])
    middle = [1, 1, 1 + 0.5 / 4 * 11, 1 + 1.5 / 4 * 11, 1 + 2.5 / 4 * 11, 1 + 3.5 / 4 * 11, 12, 12]
    np.testing.assert_allclose(centre_cycles(time, signal, np.array([0, 4, 8.0])), signal - middle)
    # a cycle of two readings has one (exact)
    two = centre_cycles(np.arange(4.0), np.array([0, 2, 5, 9.0]), np.array([0, 2, 4.0]))
    np.testing.assert_allclose(two, np.array([0, 2, 5, 9]) - [1, 1 + 6 / 4, 1 + 18 / 4, 7])
    # a cycle of one reading has no middle
    np.testing.assert_allclose(centre_cycles(time, signal, np.array([0, 4, 5, 8.0])), signal - [
        1, 1, *(1 + (np.arange(2, 6) - 1.5) / 4.5 * 11), 12, 12
    ])  # fmt: skip


def turning(pauses: bool, lag_deg: float = 90.0) -> Trace:
    """Two points on circles of a second, exact; with a pause of five seconds if asked."""
    time = np.arange(4000 if pauses else 2000) / 100
    moved = np.minimum(time, 15) + np.maximum(time - 20, 0) if pauses else time
    angle = 2 * np.pi * moved
    late = angle - np.radians(lag_deg)
    columns = np.column_stack([np.cos(angle), np.sin(angle), np.cos(late), np.sin(late)])
    channels = [Channel(f"{p}_{a}", "position", a, p, unit="m") for p in ("first", "second") for a in "xy"]
    return Trace(time, columns, channels)


@pytest.mark.parametrize("lag", [90.0, -60.0, 180.0])
def test_course_of_exact_circles_is_their_lag_a_cycle_from_either_end(lag: float) -> None:
    trace = turning(False, lag)
    second, first = (observe(pick(trace, point=name)) for name in ("second", "first"))
    time, degrees = follow_phase(second, first)
    assert np.abs((degrees - lag + 180) % 360 - 180).max() < 1.5
    assert degrees.min() > -180 and degrees.max() <= 180
    (start, end), (other_start, other_end) = first.cycles.span[0], second.cycles.span[0]
    assert time[0] == pytest.approx(max(start, other_start) + 1, abs=0.02)
    assert time[-1] == pytest.approx(min(end, other_end) - 1, abs=0.02)
    np.testing.assert_allclose(np.diff(time), 0.01)


def test_course_goes_on_behind_a_pause() -> None:
    second, first = (observe(pick(turning(True), point=name)) for name in ("second", "first"))
    time, degrees = follow_phase(second, first)
    assert np.diff(time).max() > 5 and (time < 15).any() and (time > 21).any()
    assert not ((time > 15) & (time < 20)).any()
    assert np.median(np.abs(degrees - 90)) < 0.5


def swinging(cycles: float, *, period: float = 0.8, lag: float = 0.25, second: float = 0.6) -> Trace:
    """Two points that swing up and down, with a second loop in each cycle; sideways they only tremble."""
    time = np.arange(0, cycles * period, 0.01)
    tremble = np.random.default_rng(1).normal(0, 0.01, (2, time.size))

    def height(turn: np.ndarray) -> np.ndarray:
        return np.cos(2 * np.pi * turn) + second * np.cos(4 * np.pi * turn + 0.7)

    columns = np.column_stack([tremble[0], height(time / period), tremble[1], height(time / period - lag)])
    channels = [Channel(f"{p}_{a}", "position", a, p, unit="m") for p in ("first", "second") for a in "xy"]
    return Trace(time, columns, channels)


def course(trace: Trace) -> tuple[np.ndarray, np.ndarray]:
    return follow_phase(*(observe(pick(trace, point=name), period=0.8) for name in ("second", "first")))


def test_a_second_loop_in_the_cycle_does_not_make_the_course_run_to_and_fro() -> None:
    _, degrees = course(swinging(20))
    assert np.abs(degrees - 90).max() < 35
    # without the filter it would: the phase of both is bent by the second loop (exact)
    signals = swinging(20, second=0.6).values[:, [1, 3]].T
    bent = np.degrees(np.diff([np.unwrap(np.angle(hilbert(signal - signal.mean()))) for signal in signals], axis=0))
    assert np.ptp(bent[0][100:-100]) > 60


def test_a_course_needs_four_cycles() -> None:
    assert course(swinging(3.5, second=0))[0].size == 0
    assert course(swinging(4.5, second=0))[0].size > 0
    time, _ = course(swinging(6, second=0))
    assert 2 * 0.8 < time[-1] - time[0] < 4.1 * 0.8


def test_those_who_hardly_move_at_the_same_time_have_no_course() -> None:
    # one turns for twelve seconds, the other then the other: about a cycle is shared
    time = np.arange(2300) / 100
    angles = 2 * np.pi * np.minimum(time, 12.4), 2 * np.pi * np.maximum(time - 11.6, 0)
    columns = np.column_stack([turn(angle) for angle in angles for turn in (np.cos, np.sin)])
    channels = [Channel(f"{p}_{a}", "position", a, p, unit="m") for p in ("first", "second") for a in "xy"]
    second, first = (observe(pick(Trace(time, columns, channels), point=name)) for name in ("second", "first"))
    (_, end), (start, _) = first.cycles.span[0], second.cycles.span[0]
    assert 0.1 < end - start < 1.9
    assert follow_phase(second, first)[0].size == follow_phase(first, second)[0].size == 0


def test_seven_readings_a_cycle_are_enough_for_a_course() -> None:
    time = np.arange(200) / 7
    angle = 2 * np.pi * time
    late = angle - np.pi / 2
    columns = np.column_stack([np.cos(angle), np.sin(angle), np.cos(late), np.sin(late)])
    channels = [Channel(f"{p}_{a}", "position", a, p, unit="m") for p in ("first", "second") for a in "xy"]
    second, first = (observe(pick(Trace(time, columns, channels), point=name)) for name in ("second", "first"))
    assert np.median(follow_phase(second, first)[1]) == pytest.approx(90, abs=2)


def test_only_bouts_of_four_cycles_have_a_course() -> None:
    # three cycles, a pause, ten cycles, a pause, and three again
    time = np.arange(0, 26, 0.01)
    angle = 2 * np.pi * np.interp(time, [0, 3, 8, 18, 23, 26], [0, 3, 3, 13, 13, 16])
    late = angle - np.pi / 2
    columns = np.column_stack([np.cos(angle), np.sin(angle), np.cos(late), np.sin(late)])
    channels = [Channel(f"{p}_{a}", "position", a, p, unit="m") for p in ("first", "second") for a in "xy"]
    second, first = (observe(pick(Trace(time, columns, channels), point=name)) for name in ("second", "first"))
    assert len(first.cycles.span) == len(second.cycles.span) == 3
    course, degrees = follow_phase(second, first)
    assert 8 < course[0] < 9.7 and 16.3 < course[-1] < 18
    assert np.median(degrees) == pytest.approx(90, abs=1)
