"""Stamps to seconds: moments as they are written, units from steps, bursts put right."""

import numpy as np
import pytest

from tempo_coach.errors import CoachError
from tempo_coach.observe.trace.stamps import find_unit, mend, parse_moments
from tempo_coach.reasons import Reason, Why
from tempo_coach.report.words.errors import hint_of, message_of


def said(error: CoachError) -> tuple[str, str | None, str | None]:
    return message_of(error), error.where, hint_of(error)


@pytest.mark.parametrize(
    ("cell", "seconds"),
    [
        # 2024-05-01T17:30:00Z is Unix time 1714584600 (POSIX, seconds since the epoch)
        ("2024-05-01T17:30:00", 1_714_584_600.0),
        ("2024-05-01 17:30:00.250", 1_714_584_600.25),
        ("2024/05/01 17:30:00,250", 1_714_584_600.25),
        ("2024-05-01T19:30:00+02:00", 1_714_584_600.0),
        (' "20240501T173000" ', 1_714_584_600.0),
        ("17:30:00.5", 63_000.5),
        ("17:30:00,5", 63_000.5),
        ("30:01.5", 1801.5),
        ("0:00", 0.0),
    ],
)
def test_moments_are_read_as_they_are_written(cell: str, seconds: float) -> None:
    found = parse_moments([cell])
    assert found is not None
    assert found.tolist() == [pytest.approx(seconds, abs=1e-6)]


@pytest.mark.parametrize(
    "cell", ["half past five", "2024-13-41T17:30:00", "1:2:3:4", "12.5", "-1.5", "a:b", "Träger", ":"]
)
def test_what_is_no_moment_is_told_from_one(cell: str) -> None:
    assert parse_moments(["17:30:00", cell]) is None


def test_an_empty_cell_is_a_missing_moment_and_no_cell_is_none_at_all() -> None:
    found = parse_moments(["17:30:00", "", ' "" ', "17:30:01"])
    np.testing.assert_array_equal(found, [63_000.0, np.nan, np.nan, 63_001.0])
    assert parse_moments([]) is not None and len(parse_moments([])) == 0  # type: ignore[arg-type]  # as just asked


def test_times_of_day_go_on_through_midnight() -> None:
    found = parse_moments(["23:59:59.9", "", "00:00:00.0", "00:00:00.1"])
    np.testing.assert_allclose(found, [86_399.9, np.nan, 86_400.0, 86_400.1])
    back = parse_moments(["12:00:01", "12:00:00"])  # rows that changed places do not
    np.testing.assert_allclose(back, [43_201.0, 43_200.0])


@pytest.mark.parametrize(
    ("step", "unit"),
    [
        (0.01, (1.0, "s")),
        (2.0, (1.0, "s")),
        (0.00025, (1.0, "s")),
        (2.001, (1e-3, "ms")),
        (20.0, (1e-3, "ms")),
        (0.000249, None),
        (10_000.0, (1e-6, "µs")),
        (1e7, (1e-9, "ns")),
        (2.1e9, None),
    ],
)
def test_the_unit_is_the_first_that_makes_the_usual_step_one_of_a_sensor(
    step: float, unit: tuple[float, str] | None
) -> None:
    stamps = 5.0 * step + step * np.array([0.0, 1, 2, np.nan, 3, 4, 90, 91])
    if unit is not None:
        assert find_unit(stamps, where="a") == unit
        return
    with pytest.raises(CoachError) as caught:
        find_unit(stamps, where="Zoë.csv")
    assert said(caught.value) == (
        f"a usual step of {step:g} is that of no sensor in s, ms, µs or ns",
        "Zoë.csv",
        "give --rate HZ if the column counts frames",
    )


@pytest.mark.parametrize("stamps", [[], [1.0], [1.0, 1.0], [3.0, 2.0, 1.0], [np.nan, np.nan]])
def test_stamps_that_never_go_forward_have_no_unit(stamps: list[float]) -> None:
    with pytest.raises(CoachError) as caught:
        find_unit(np.array(stamps), where="a.csv")
    assert said(caught.value) == (
        "expected times that go forward, got stamps that never do",
        "a.csv",
        "name the time column with --time-column, or give --rate HZ",
    )


@pytest.mark.parametrize("stamps", [[], [4.0], [4.0, 4.5, 9.0]])
def test_stamps_in_order_are_left_as_they_are(stamps: list[float]) -> None:
    time, rows, notes = mend(np.array(stamps), where="a")
    assert (time.tolist(), rows.tolist(), notes) == (stamps, list(range(len(stamps))), [])


def test_single_rows_out_of_order_are_sorted_and_single_repeats_left_out() -> None:
    stamps = np.append(np.arange(40.0), 39.0)
    stamps[[5, 6]] = stamps[[6, 5]]
    time, rows, notes = mend(stamps, where="a")
    np.testing.assert_array_equal(time, np.arange(40.0))
    np.testing.assert_array_equal(rows, [*range(5), 6, 5, *range(7, 40)])  # of two alike the earlier row stays
    assert notes == [Reason(Why.ROWS_SORTED, (1,)), Reason(Why.ROWS_REPEATED, (1,))]


def test_times_that_run_backwards_are_refused_from_a_tenth_on() -> None:
    stamps = np.arange(41.0)
    stamps[[5, 15, 25, 35]] -= 1.5
    assert mend(stamps, where="a")[0].size == 41  # 4 of 40 steps
    stamps[10] -= 1.5
    with pytest.raises(CoachError) as caught:
        mend(stamps, where="a.csv")
    assert said(caught.value) == ("the times run backwards 5 times", "a.csv", "name the time column with --time-column")


def test_stamps_that_repeat_and_jump_are_put_on_even_steps() -> None:
    # readings at 50 Hz that arrive in bursts: stamps repeat and jump by 0 to 36 ms
    rng = np.random.default_rng(4)
    true = np.arange(400) / 50
    arrived = np.ceil((true + rng.uniform(0, 0.02, 400)) / 0.036) * 0.036
    time, rows, (note,) = mend(arrived, where="a")
    share = np.mean(np.diff(arrived) == 0)
    assert note == (Why.EVEN_STEPS, pytest.approx((share, 0.02), rel=0.02))
    np.testing.assert_array_equal(rows, np.arange(400))
    assert (np.diff(time) > 0).all()
    assert np.std(time - true) < 0.004
    assert np.std(np.diff(time)) < 0.004


def test_a_gap_stays_a_gap_though_stamps_repeat() -> None:
    true = np.concatenate([np.arange(200), np.arange(250, 450)]) / 50
    time, _, _ = mend(np.ceil(true / 0.036) * 0.036, where="a")
    assert np.diff(time).max() == pytest.approx(1.02, abs=0.1)


def test_up_to_two_repeats_are_left_out_and_more_than_2_percent_are_bursts() -> None:
    few = np.sort(np.append(np.arange(9.0), [3.0, 6.0]))
    assert mend(few, where="a")[0].tolist() == list(range(9))
    many = np.sort(np.append(np.arange(9.0), [3.0, 6.0, 7.0]))
    time, rows, notes = mend(many, where="a")
    assert time.size == rows.size == 12 and (np.diff(time) > 0).all() and notes[0].code is Why.EVEN_STEPS
