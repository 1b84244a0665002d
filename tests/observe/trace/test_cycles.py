"""Cycles: the period with its traps, crossings near the limit, bouts and pauses, and what real recordings do."""

from collections.abc import Callable

import numpy as np
import pytest
import seglearn.datasets

from tempo_coach.observe.trace.cycles import find_cycles
from tempo_coach.observe.trace.selection import pick
from tempo_coach.observe.trace.trace import Channel, Trace
from tests.generators import movement
from tests.refused import refused


def column(time: np.ndarray, values: np.ndarray, quantity: str = "position", axis: str = "y") -> Trace:
    return Trace(time, values[:, None], [Channel(axis, quantity, axis)])  # type: ignore[arg-type]  # a word of the test


def test_a_steady_sine_is_timed_at_its_crossings() -> None:
    time = movement.clock(20, 100)
    found = find_cycles(column(time, np.sin(2 * np.pi * 1.5 * (time - 0.1))))
    np.testing.assert_allclose(found.time, 0.1 + np.arange(30) / 1.5, atol=3e-4)
    assert found.rhythm.period == pytest.approx(2 / 3, rel=1e-3)
    assert found.rhythm.confidence > 0.95
    assert found.rhythm.alternatives == ()


@pytest.mark.parametrize("short", [0.0, 0.02])
def test_a_record_of_whole_cycles_has_all_of_them(short: float) -> None:
    # twelve cycles from their first to their last crossing, or less by a hundredth of a cycle at each end
    for seed in range(6):
        rng = np.random.default_rng(seed)
        phase = movement.Phase(movement.ticks(rng, 12, 1.0, start=0.0))
        end = float(np.interp(12.0, phase(np.arange(0, 14, 0.001)), np.arange(0, 14, 0.001)))
        time = np.arange(short / 2, end - short / 2, 0.01)
        found = find_cycles(column(time, np.sin(2 * np.pi * phase(time)) + 0.02 * rng.standard_normal(time.size)))
        assert found.time.size == 13
        np.testing.assert_allclose(phase(found.time[1:-1]), np.arange(1, 12), atol=0.01)
        np.testing.assert_allclose(phase(found.time[[0, -1]]), [0, 12], atol=0.03)
        # what begins before the record was not seen to begin
        assert found.seen[1:-1].all()
        assert found.seen[0] == (found.time[0] > time[0])


def test_crossings_in_noise_beat_straight_lines_between_readings() -> None:
    # s/(A ω)·√(2/3): the SD of a crossing interpolated between two noisy readings (exact)
    errors = []
    for seed in range(20):
        trace, phase = movement.circle(seed, n=2000, frequency=1.5, noise=0.02)
        found = find_cycles(trace)
        angle = phase + 2 * np.pi * 1.5 * (found.time - trace.time.mean())
        errors.append(((angle + np.pi) % (2 * np.pi) - np.pi) / (2 * np.pi * 1.5))
    assert np.concatenate(errors).std() < 1.2 * 0.00173266


@pytest.mark.parametrize(("n", "frequency", "bound"), [(1000, 2.0, 0.000246562), (500, 1.5, 0.000697383)])
def test_the_tempo_of_a_steady_circle_comes_near_what_noise_allows_at_best(
    n: int, frequency: float, bound: float
) -> None:
    # the Cramér-Rao bound of a sine in 10 % noise (Kay 1993, formula from memory), for a line through the crossings
    found = [find_cycles(movement.circle(seed, n=n, frequency=frequency)[0]).time for seed in range(12)]
    errors = [1 / np.polyfit(np.arange(time.size), time, 1)[0] - frequency for time in found]
    assert np.sqrt(np.mean(np.square(errors))) < 2.6 * bound


@pytest.mark.parametrize("bump", [0.25, 0.45])
def test_two_unlike_bumps_make_one_cycle(bump: float) -> None:
    # the ankle and the pelvis give two bumps a cycle
    time = movement.clock(20, 100)
    wave = bump * np.sin(2 * np.pi * time) + np.sin(4 * np.pi * time + 0.4)
    found = find_cycles(column(time, wave, "acceleration"))
    assert found.rhythm.period == pytest.approx(1, rel=0.02)
    assert 20 <= found.time.size <= 21  # starts in twenty cycles, the first and the last perhaps at the ends


def test_a_small_bounce_before_each_stroke_is_no_cycle_of_its_own() -> None:
    time = movement.clock(24, 100)
    part = time % 1.2 / 1.2
    wave = np.exp(-(((part - 0.6) / 0.09) ** 2)) + 0.4 * np.exp(-(((part - 0.35) / 0.05) ** 2))
    assert find_cycles(column(time, wave)).time.size in {19, 20}


def test_a_tempo_that_doubles_in_the_middle_is_followed() -> None:
    time = movement.clock(30, 100)
    phase = np.where(time < 15, time, 15 + 2 * (time - 15))
    found = find_cycles(column(time, np.sin(2 * np.pi * phase)))
    assert found.time.size in {45, 46}  # starts in 45 cycles
    assert np.median(found.periods[found.starts < 14]) == pytest.approx(1, rel=0.01)
    assert np.median(found.periods[found.starts > 16]) == pytest.approx(0.5, rel=0.01)


def bouts(time: np.ndarray) -> np.ndarray:
    """8 s of movement, 4 s of rest, 8 s of movement."""
    going = np.clip(np.minimum(time - 1, 9 - time), 0, 0.5) + np.clip(np.minimum(time - 13, 21 - time), 0, 0.5)
    return 2 * going * np.sin(2 * np.pi * 1.25 * time)


def test_bouts_are_told_from_pauses_though_knocks_are_ten_times_the_movement() -> None:
    rng = np.random.default_rng(3)
    time = movement.clock(22, 50)
    wave = 0.3 * bouts(time) + 0.01 * rng.standard_normal(time.size)
    for knock in (0.4, 10.2, 11.0, 11.8, 21.6):
        at = int(knock * 50)
        wave[at : at + 2] += (4.0, -3.0)
    found = find_cycles(column(time, wave, "acceleration"))
    assert len(found.span) == 2
    assert abs(found.time.size - 20) <= 2
    assert not ((found.time > 9.5) & (found.time < 12.5)).any()
    assert found.periods.max() < 1.0


@pytest.mark.parametrize("at", [0.25, 0.75])
def test_gaps_at_the_apex_move_no_crossing(at: float) -> None:
    time = movement.clock(20, 100)
    rng = np.random.default_rng(1)
    keep = np.ones(time.size, dtype=bool)
    for number in range(2, 18, 3):
        width = rng.uniform(0.1, 0.4)
        keep &= np.abs(time - (number + at)) > width / 2
    found = find_cycles(column(time[keep], np.sin(2 * np.pi * time[keep])))
    np.testing.assert_allclose(found.time, np.arange(0, 21), atol=0.008)


@pytest.mark.parametrize("gap", [5.0, 600.0])
def test_no_cycle_is_found_where_nothing_was_read(gap: float) -> None:
    time = np.arange(1200) / 100
    time[300:] += gap
    cycles = find_cycles(column(time, np.sin(np.arange(1200) * 2 * np.pi / 60)))
    assert set(cycles.bout) == {0, 1}
    assert not ((cycles.time > time[299]) & (cycles.time < time[300])).any()
    np.testing.assert_allclose(cycles.periods, 0.6, atol=0.01)
    assert cycles.periods.size >= 16


def test_slow_sampling_with_jittered_stamps_still_times_cycles() -> None:
    # 18.75 Hz with 3 ms of jitter: a tracker that drops frames
    rng = np.random.default_rng(2)
    time = np.arange(600) / 18.75 + 0.003 * rng.standard_normal(600)
    found = find_cycles(column(time, np.sin(2 * np.pi * 1.5 * time) + 0.01 * rng.standard_normal(600)))
    np.testing.assert_allclose(found.time * 1.5, np.rint(found.time * 1.5), atol=0.005 * 1.5)
    assert found.time.size >= 46


def test_changing_amplitude_and_shape_lose_no_cycle() -> None:
    time = movement.clock(20, 100)
    size = 0.5 + 0.5 * np.sin(2 * np.pi * time / 13) ** 2
    wave = size * np.sin(2 * np.pi * time) + 0.25 * np.sin(2 * np.pi * time / 9) * np.sin(4 * np.pi * time)
    assert 20 <= find_cycles(column(time, wave)).time.size <= 21  # starts in 20 cycles


@pytest.mark.parametrize("drift", [5.0, 0.3])
def test_an_offset_or_a_slow_drift_moves_nothing(drift: float) -> None:
    time = movement.clock(20, 100)
    away = drift if drift > 1 else drift * time
    plain = find_cycles(column(time, np.sin(2 * np.pi * time)))
    moved = find_cycles(column(time, np.sin(2 * np.pi * time) + away))
    np.testing.assert_allclose(moved.time, plain.time, atol=0.012)


def test_the_unit_of_the_readings_does_not_matter() -> None:
    trace = pick(movement.mills(5).trace)
    big = Trace(trace.time, trace.values * 1000, trace.channels)
    np.testing.assert_allclose(find_cycles(big).time, find_cycles(trace).time, atol=1e-9)


@pytest.mark.parametrize(
    ("make", "said"),
    [
        (lambda t: np.random.default_rng(0).standard_normal(t.size), "repeats"),
        (lambda t: np.where(t < 1, np.sin(2 * np.pi * t), 0) + 1e-3 * np.sin(40 * t), "repeats|two cycles"),
    ],
)
def test_what_does_not_repeat_is_said(make: Callable[[np.ndarray], np.ndarray], said: str) -> None:
    time = movement.clock(20, 50)
    with refused(said):
        find_cycles(column(time, make(time)))


@pytest.fixture(scope="module")
def watch() -> dict[str, list[tuple[np.ndarray, list[str]]]]:
    """The wrist-watch recordings of seglearn 1.2.5 (BSD-3): 50 Hz, 20 repetitions of an arm exercise by protocol."""
    data = seglearn.datasets.load_watch()
    recordings: dict[str, list[tuple[np.ndarray, list[str]]]] = {}
    for values, kind in zip(data["X"], data["y"], strict=True):
        recordings.setdefault(data["y_labels"][kind], []).append((np.asarray(values, float), data["X_labels"]))
    return recordings


@pytest.mark.parametrize(
    ("exercise", "quantity", "least"),
    [
        ("PEN", "rotation", 0.95),  # the arm hangs and circles
        ("PEN", "acceleration", 0.9),
        ("ABD", "rotation", 0.9),  # raised sideways
        ("ABD", "acceleration", 0.9),
        ("FEL", "rotation", 1.0),  # raised forwards
        ("FEL", "acceleration", 1.0),
    ],
)
def test_twenty_arm_movements_are_counted_within_one(
    watch: dict[str, list[tuple[np.ndarray, list[str]]]], exercise: str, quantity: str, least: float
) -> None:
    right = []
    for values, labels in watch[exercise]:
        channels = [
            Channel(name, "acceleration" if name[0] == "a" else "rotation", name[1])  # type: ignore[arg-type]  # x, y, z
            for name in labels
        ]
        trace = Trace(np.arange(len(values)) / 50, values, channels)
        found = find_cycles(pick(trace, quantity=quantity))  # type: ignore[arg-type]  # one of the words
        right.append(abs(found.time.size - 20) <= 1)
    assert np.mean(right) >= least


@pytest.mark.parametrize("later", [0.0, 0.1, 0.37, 0.5, 0.74, 0.98])
def test_the_number_of_cycles_is_the_same_at_whatever_phase_they_are_timed(later: float) -> None:
    # fourteen cycles, of which a sensor that is timed elsewhere shows fourteen starts or fifteen
    rng = np.random.default_rng(5)
    time = np.arange(0.01, 14 * 0.8 - 0.01, 0.01)
    signal = np.sin(2 * np.pi * (time / 0.8 - later)) + 0.02 * rng.standard_normal(time.size)
    found = find_cycles(column(time, signal))
    assert found.number == 14 and found.time.size in (14, 15)


def test_who_begins_small_is_counted_from_the_first_cycle_and_who_stands_still_is_not() -> None:
    rng = np.random.default_rng(6)
    time = np.arange(0, 24, 0.01)
    size = 0.16 + 0.84 * np.clip(time / 24, 0, 1) ** 2  # of what goes with the square of the speed
    grows = size * np.sin(2 * np.pi * (time - 0.02)) + 0.02 * rng.standard_normal(time.size)
    assert find_cycles(column(time, grows, "acceleration", "")).number == 24
    still = np.where(time > 8, np.sin(2 * np.pi * (time - 8)), 0.0) + 0.02 * rng.standard_normal(time.size)
    assert find_cycles(column(time, still, "acceleration", "")).number == 16
