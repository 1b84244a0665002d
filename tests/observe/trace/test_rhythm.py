"""The period of a movement: exact on sines, told from its half, followed, and refused where nothing repeats."""

import numpy as np
import pytest

from tempo_coach.errors import CoachError
from tempo_coach.observe.trace.circles import find_circles
from tempo_coach.observe.trace.cycles import find_cycles
from tempo_coach.observe.trace.resampling import Resampled, resample
from tempo_coach.observe.trace.rhythm import READINGS_A_CYCLE, Rhythm, find_rhythm, refuse_slow
from tempo_coach.report.words.errors import hint_of, message_of
from tests.generators import movement
from tests.observe.trace.test_cycles import column
from tests.refused import refused


def resampled(values: np.ndarray, step: float = 0.01, start: float = 0.0) -> Resampled:
    values = values.reshape(len(values), -1)
    return Resampled(start, step, values, np.ones(len(values), dtype=bool))


def sine(period: float, seconds: float = 20.0, step: float = 0.01) -> np.ndarray:
    return np.sin(2 * np.pi * np.arange(0, seconds, step) / period)


@pytest.mark.parametrize("period", [0.25, 0.6, 1.234, 4.0])
def test_a_sines_period_is_found_and_stays_the_same_along_it(period: float) -> None:
    found = find_rhythm(resampled(sine(period), start=100.0))
    assert found.period == pytest.approx(period, rel=0.002 if period < 2 else 0.01)
    assert found.confidence > 0.95
    assert found.alternatives == ()
    np.testing.assert_allclose(found.local, period, rtol=0.03)
    assert (np.diff(found.time) > 0).all()
    assert 100 <= found.time[0] < found.time[-1] <= 120


@pytest.mark.parametrize(("shift", "scale"), [(7.0, 1.0), (0.0, 1000.0), (-3.0, 1e-6)])
def test_neither_offset_nor_unit_changes_it(shift: float, scale: float) -> None:
    plain, moved = find_rhythm(resampled(sine(0.8))), find_rhythm(resampled(shift * scale + scale * sine(0.8)))
    assert moved.period == pytest.approx(plain.period, rel=1e-6)
    assert moved.confidence == pytest.approx(plain.confidence, abs=1e-3)


def test_all_columns_are_looked_at_at_once() -> None:
    # one column repeats twice a cycle, the other once: the cycle is that of both
    both = np.column_stack([sine(0.5), 0.8 * sine(1.0)])
    assert find_rhythm(resampled(both)).period == pytest.approx(1.0, rel=0.002)
    assert find_rhythm(resampled(both[:, 0])).period == pytest.approx(0.5, rel=0.002)


def test_a_known_period_is_kept_within_30_percent() -> None:
    wave = sine(1.0)
    assert find_rhythm(resampled(wave), period=1.25).period == pytest.approx(1.0, rel=0.005)
    assert find_rhythm(resampled(wave), period=2.0).period == pytest.approx(2.0, rel=0.005)
    with refused("nothing that repeats"):
        find_rhythm(resampled(wave), period=1.45)  # 1.015 to 1.885 s: neither one cycle nor two


@pytest.mark.parametrize("period", [0.0001, 0.05, 20.0, 1e9])
def test_a_period_that_no_such_readings_can_show_is_refused(period: float) -> None:
    # 20 s of readings, 0.01 s apart: cycles of 0.12 to 12 s, and 30 % to either side
    with refused(r"expected 0\.092 to 17\.1 s in 20 s of readings"):
        find_rhythm(resampled(sine(1.0)), period=period)


def test_a_tempo_that_doubles_is_followed() -> None:
    time = np.arange(0, 30, 0.01)
    found = find_rhythm(resampled(np.sin(2 * np.pi * np.where(time < 15, time, 2 * time - 15))))
    assert np.median(found.local[found.time < 12]) == pytest.approx(1.0, rel=0.03)
    assert np.median(found.local[found.time > 18]) == pytest.approx(0.5, rel=0.03)


def test_a_doubtful_period_names_the_other_one_in_seconds() -> None:
    time = np.arange(0, 20, 0.01)
    found = find_rhythm(resampled(0.3 * np.sin(2 * np.pi * time) + np.sin(4 * np.pi * time)))
    assert found.period == pytest.approx(1.0, rel=0.01)
    assert found.alternatives == (pytest.approx(0.5, rel=0.02),)


@pytest.mark.parametrize("values", [np.zeros(500), np.random.default_rng(0).standard_normal(1000), np.arange(500.0)])
def test_what_does_not_repeat_is_refused_with_the_next_step(values: np.ndarray) -> None:
    with pytest.raises(CoachError) as caught:
        find_rhythm(resampled(values))
    assert message_of(caught.value).startswith(
        "found nothing that repeats: the best likeness of a cycle to the next is 0."
    )
    assert hint_of(caught.value) == "choose the columns that show the movement, or a stretch in which it goes on"


def test_too_few_readings_are_refused_with_what_a_circle_needs() -> None:
    with pytest.raises(CoachError) as caught:
        find_rhythm(resampled(np.sin(np.arange(8.0)), step=1.0))
    assert message_of(caught.value) == "1 readings a second for 8 s are too few for circles"
    assert hint_of(caught.value) == "a circle needs 6 readings, and a cycle has to be seen twice; 50 Hz is good"


def test_circles_in_fewer_readings_than_show_one_are_refused_with_both_figures() -> None:
    step = 0.1
    refuse_slow(np.arange(9) * (READINGS_A_CYCLE * step + 1e-9), step)
    for few in ([], [3.0]):
        refuse_slow(np.array(few), 99.0)  # there is no usual circle
    with pytest.raises(CoachError) as caught:
        refuse_slow(np.array([0.0, 0.5, 1.0, 9.0]), step)
    assert message_of(caught.value) == "10 readings a second are too few for circles of 0.5 s"
    assert hint_of(caught.value) == ("a circle needs 6 readings: these show circles of 0.6 s or longer; 50 Hz is good")


def test_a_rhythm_keeps_columns_of_its_own_in_order() -> None:
    time = np.array([0.0, 1.0])
    kept = Rhythm(1.0, 1.0, (), time, np.array([1.0, 1.0]))
    time[0] = 5
    assert kept.time.tolist() == [0.0, 1.0]
    with pytest.raises(ValueError, match="time"):
        Rhythm(1.0, 1.0, (), np.array([1.0, 0.0]), np.array([1.0, 1.0]))


def test_circles_in_too_few_readings_are_refused_with_the_limit() -> None:
    # a reading a second of circles of 3.1 s: what seems to repeat is an echo
    time = np.arange(90.0)
    with refused(r"readings a second are too few .* circles of 6 s or longer"):
        find_circles(movement.positions(time, np.column_stack([np.cos(2 * time), np.sin(2 * time)])))


def test_a_period_that_could_be_its_half_is_told_with_less_confidence() -> None:
    time = movement.clock(20, 100)
    doubtful = find_rhythm(resample(column(time, 0.2 * np.sin(2 * np.pi * time) + np.sin(4 * np.pi * time))))
    sure = find_rhythm(resample(column(time, np.sin(2 * np.pi * time))))
    assert doubtful.confidence < 0.5 < sure.confidence
    assert any(np.isclose(doubtful.alternatives, 0.5, rtol=0.02)) or doubtful.period < 0.6


def test_one_reading_a_second_is_too_slow_and_the_limit_is_said() -> None:
    with refused("6 readings"):
        find_cycles(column(np.arange(8.0), np.sin(np.arange(8.0))))
