"""Tables of sensors and trackers: what is understood, and what is refused with one sentence."""

from pathlib import Path

import numpy as np
import pytest

from tempo_coach.observe.trace.selection import pick
from tempo_coach.observe.trace.tables import parse_trace, read_trace
from tempo_coach.report.words.errors import say_error
from tempo_coach.report.words.reasons import say_reason
from tests.refused import refused

ROWS = 40


def table(header: str, *columns: np.ndarray, mark: str = ",", comma: bool = False) -> str:
    rows = [mark.join(f"{value:.9g}" for value in row) for row in zip(*columns, strict=True)]
    if comma:
        rows = [row.replace(".", ",") for row in rows]
    return "\n".join([header, *rows])


TIME = np.arange(ROWS) / 100
WAVE = np.sin(7 * TIME)


@pytest.mark.parametrize("mark", [",", ";", "\t"])
def test_commas_semicolons_and_tabs_separate(mark: str) -> None:
    trace = parse_trace(table(mark.join(("time", "x", "y")), TIME, WAVE, -WAVE, mark=mark))
    np.testing.assert_allclose(trace.time, TIME)
    np.testing.assert_allclose(trace.values[:, 1], -WAVE, atol=1e-8)
    assert trace.rate_hz == pytest.approx(100)


def test_a_decimal_comma_is_read_where_the_comma_does_not_separate() -> None:
    trace = parse_trace(table("time;x", TIME, WAVE, mark=";", comma=True))
    np.testing.assert_allclose(trace.values[:, 0], WAVE, atol=1e-8)


@pytest.mark.parametrize(("factor", "word"), [(1.0, "in s"), (1e3, "in ms"), (1e6, "in µs"), (1e9, "in ns")])
def test_the_unit_of_time_is_found_from_the_steps(factor: float, word: str) -> None:
    trace = parse_trace(table("time,x", TIME * factor, WAVE))
    np.testing.assert_allclose(trace.time, TIME, atol=1e-9)
    assert word in say_reason(trace.notes[0])


def test_seconds_since_1970_begin_at_the_first_row_and_keep_the_clock() -> None:
    stamps = [f"{1_700_000_000_000 + round(1000 * t)},{w:.6f}" for t, w in zip(TIME, WAVE, strict=True)]
    trace = parse_trace("\n".join(["timestamp,x", *stamps]))
    np.testing.assert_allclose(trace.time, TIME, atol=1e-6)
    assert trace.clock_start == 1_700_000_000


def test_date_times_and_times_of_day_are_read() -> None:
    dated = [f"2024-05-01T17:30:{t:06.3f},{w:.6f}" for t, w in zip(TIME, WAVE, strict=True)]
    trace = parse_trace("\n".join(["time,x", *dated]))
    np.testing.assert_allclose(trace.time, TIME, atol=1e-6)
    assert trace.clock_start == pytest.approx(1_714_584_600)
    daily = [f"17:30:{t:06.3f},{w:.6f}" for t, w in zip(TIME, WAVE, strict=True)]
    np.testing.assert_allclose(parse_trace("\n".join(["time,x", *daily])).time, TIME, atol=1e-6)


def test_without_a_time_column_a_rate_is_enough() -> None:
    trace = parse_trace(table("x,y", WAVE, -WAVE), rate_hz=50)
    assert trace.rate_hz == pytest.approx(50)


def test_units_come_from_names_from_a_row_below_or_from_size() -> None:
    named = parse_trace(table("time,x (cm)", TIME, 100 * WAVE))
    np.testing.assert_allclose(named.values[:, 0], WAVE, atol=1e-6)
    below = parse_trace(table("time,x\ns,mm", TIME, 1000 * WAVE))
    np.testing.assert_allclose(below.values[:, 0], WAVE, atol=1e-6)
    in_g = parse_trace(table("time,ax,ay,az", TIME, WAVE, 0.1 * WAVE, 1 + 0.1 * WAVE))
    np.testing.assert_allclose(in_g.values[:, 0], 9.80665 * WAVE, atol=1e-5)
    degrees = parse_trace(table("time,gx", TIME, 300 * WAVE))
    assert degrees.unit == "rad/s"
    np.testing.assert_allclose(degrees.values[:, 0], np.radians(300 * WAVE), atol=1e-5)
    unknown = parse_trace(table("time,x", TIME, 300 * WAVE))
    assert unknown.unit == ""
    asked = parse_trace(table("time,x", TIME, 300 * WAVE), units={"position": "mm"})
    np.testing.assert_allclose(asked.values[:, 0], 0.3 * WAVE, atol=1e-6)


def test_pixels_point_down_and_are_turned_up() -> None:
    trace = parse_trace(table("time,x [px],y [px]", TIME, 200 * WAVE, 100 * WAVE))
    np.testing.assert_allclose(trace.values[:, 1], -100 * WAVE, atol=1e-6)


def test_several_points_are_told_apart_and_what_was_understood_is_said() -> None:
    trace = parse_trace(table("time,left_x,left_y,right_x,right_y,battery", TIME, *([WAVE] * 4), np.full(ROWS, 3.7)))
    assert trace.points == ("left", "right")
    assert pick(trace, point="right").channels[0].name == "right_x"
    assert "left_x: position x of left in m" in [*map(say_reason, trace.notes)]
    assert "left out, because they never change: battery" in [*map(say_reason, trace.notes)]


def test_lines_before_the_header_empty_cells_and_drop_outs_are_normal() -> None:
    lines = table("time,x,y", TIME, WAVE, -WAVE).splitlines()
    lines[5] = "0.04,,NaN"
    trace = parse_trace("\n".join(["# a sensor", "recorded indoors", *lines]))
    assert np.isnan(trace.values[4]).all()
    assert trace.time.size == ROWS


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "empty"),
        ("hello\nworld", "no rows of numbers"),
        ("1,2,3\n4,5,6\n7,8,9", "header"),
        ("time,x\n0,1", "two rows"),
        (table("frame,x", TIME * 100, WAVE), "no time column"),
        (table("time,timestamp,x", TIME, TIME, WAVE), "two columns could be the time"),
        (table("time,x", TIME, np.zeros(ROWS)), "nothing in it changes"),
        (table("time,x", TIME, np.full(ROWS, np.nan)), "nothing in it changes"),
        (table("time,x (m)", TIME, 10_000 * WAVE), "which no gymnast does"),
        (table("time,ax (g)", TIME, 4000 * WAVE), "which no gymnast does"),
        (table("time (s),x", -TIME, WAVE), "run backwards"),
        (table("time,x", np.zeros(ROWS), WAVE), "the times stand still: time is the same in all rows"),
        ("time,x\n" + ",1\n" * 9, "no time column"),
        ("time,x\n" + "".join(f"{max(1, k - 290)},{k % 7}\n" for k in range(300)), "the times stand still"),
        (table("time_s,x", TIME * 1e6, WAVE), "the times jump by more than an hour"),
        (table("time,x", TIME, WAVE * 1e300), "x reaches 9.995e.299, which nothing reads"),
    ],
)
def test_bad_tables_are_refused_with_a_sentence(text: str, said: str) -> None:
    with refused(said) as caught:
        parse_trace(text, where="take.csv")
    assert "take.csv" in say_error(caught.value)


@pytest.mark.parametrize(
    ("asked", "said"),
    [
        ({"time_column": "tme"}, "did you mean time"),
        ({"rate_hz": 0}, "rate above 0"),
        ({"units": {"position": "miles"}}, "m, cm, mm, px"),
    ],
)
def test_wrong_wishes_are_told(asked: dict[str, object], said: str) -> None:
    with refused(said):
        parse_trace(table("time,x", TIME, WAVE), **asked)  # type: ignore[arg-type]  # varied on purpose


def test_other_encodings_are_read(tmp_path: Path) -> None:
    text = table("time (µs),x", TIME * 1e6, WAVE)
    for encoding in ("utf-8-sig", "utf-16", "latin-1"):
        path = tmp_path / f"{encoding}.csv"
        path.write_text(text, encoding=encoding)
        np.testing.assert_allclose(read_trace(path).time, TIME, atol=1e-9)


def test_infinity_is_no_reading():
    rows = "".join(f"{k / 50},{np.sin(k / 5):.3f},{'inf' if k == 7 else 1.0 + k / 100}\n" for k in range(40))
    trace = parse_trace(f"time_s,x_m,y_m\n{rows}1e999,0,0\n")
    assert len(trace.time) == 40
    assert np.isfinite(trace.time).all()


def written(time: np.ndarray) -> str:
    return "time_s,x,y\n" + "".join(f"{t!r},{x:.6f},{-x:.6f}\n" for t, x in zip(time.tolist(), WAVE, strict=True))


def test_one_stamp_that_no_clock_has_is_a_gap() -> None:
    time = TIME.copy()
    time[-1] = 1e300
    trace = parse_trace(written(time))
    np.testing.assert_array_equal(trace.time[:-1], TIME[:-1])
    assert trace.time[-1] == TIME[-2] + 20


@pytest.mark.parametrize("later", [3600.5, 1.9e9])
def test_a_clock_that_learns_its_date_leaves_a_gap(later: float) -> None:
    time = np.where(np.arange(ROWS) < 10, TIME, TIME + later)
    trace = parse_trace(written(time))
    steps = np.diff(trace.time)
    assert steps[9] == pytest.approx(20)
    np.testing.assert_allclose(np.delete(steps, 9), np.delete(np.diff(time), 9), atol=1e-6 * max(1, later * 1e-9))
    assert any("the clock was set after reading 10" in note for note in map(say_reason, trace.notes))
    assert trace.clock_start is None


def test_a_clock_that_is_set_back_keeps_the_order_of_its_rows() -> None:
    time = np.where(np.arange(ROWS) < 10, TIME + 1e6, TIME)
    trace = parse_trace(written(time))
    np.testing.assert_allclose(trace.values[:, 0], WAVE, atol=1e-4)
    # the longer stretch keeps its own times
    np.testing.assert_allclose(trace.time[10:], TIME[10:], atol=1e-9)
    assert trace.time[9] == pytest.approx(TIME[10] - 20)


def test_a_column_that_is_there_twice_is_one_mover() -> None:
    trace = parse_trace(table("time,x,x,y", TIME, WAVE, WAVE, WAVE**2))
    assert [channel.name for channel in trace.channels] == ["x", "y"]
    assert any("column of that name holds: x 2" in say_reason(note) for note in trace.notes)
    other = parse_trace(table("time,x,x", TIME, WAVE, -WAVE))
    assert [channel.name for channel in other.channels] == ["x", "x 2"]
