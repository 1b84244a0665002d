"""What was followed in a film: shares, gaps, places in the pictures, and its table."""

import csv
import io
from dataclasses import replace

import numpy as np
import pytest

from tempo_coach.observe.film.film_trace import FilmTrace, trace_to_csv
from tempo_coach.observe.trace.tables import parse_trace
from tempo_coach.observe.trace.trace import Channel, Trace

TIME = np.arange(10) / 10
SEEN = np.array([1, 1, 0, 0, 1, 1, 1, 1, 1, 0], dtype=bool)
NAN = np.where(SEEN, 0.0, np.nan)


def followed() -> FilmTrace:
    """Two markers, the second one always seen; the camera goes 5 px right and 2 px down a picture."""
    x, y = 100 + 10 * TIME + NAN, -(50 + 20 * TIME**2) + NAN
    columns = [x, y, SEEN.astype(float), x * 0 + 7, y, np.ones(10)]
    columns[3:5] = [300 - 30 * TIME, -80 - 5 * TIME]
    channels = []
    for name in ("left", "right"):
        channels += [Channel(f"{name} {axis} (px)", "position", axis, name, "px") for axis in "xy"]
        channels += [Channel(f"{name} confidence", "other", "", f"{name} confidence")]
    moves = np.tile(np.array([[1.0, 0, 0], [0, 1.0, 0]]), (10, 1, 1))
    moves[:, 0, 2], moves[:, 1, 2] = 5 * np.arange(10), 2 * np.arange(10)
    return FilmTrace(None, Trace(TIME, np.column_stack(columns), channels), (), moves, ())  # type: ignore[arg-type]  # no film


def test_markers_have_their_names_shares_and_confidence() -> None:
    found = followed()
    assert found.names == ("left", "right")
    assert (found.share_seen("left"), found.share_seen("right")) == (pytest.approx(0.7), 1)
    np.testing.assert_array_equal(found.confidence("left"), SEEN)
    np.testing.assert_array_equal(found.confidence("right"), 1)


def test_gaps_go_from_the_last_time_seen_to_the_next_or_to_the_end() -> None:
    found = followed()
    assert found.gaps("left") == [(pytest.approx(0.1), pytest.approx(0.4)), (pytest.approx(0.8), pytest.approx(0.9))]
    assert found.gaps("right") == []


def test_places_in_the_pictures_have_the_cameras_motion_and_grow_downwards() -> None:
    places = followed().in_picture("right")
    np.testing.assert_allclose(places[:, 0], 300 - 30 * TIME + 5 * np.arange(10))
    np.testing.assert_allclose(places[:, 1], 80 + 5 * TIME + 2 * np.arange(10))


def test_a_marker_may_be_called_as_it_likes_and_the_table_stays_one() -> None:
    found = followed()
    named = replace(found.trace, channels=[replace(each, name=f"=1+1, {each.name}") for each in found.trace.channels])
    head = next(csv.reader(io.StringIO(trace_to_csv(named))))
    assert len(head) == 1 + len(found.trace.channels)
    assert head[1].startswith("'=1+1, ")


def test_the_table_is_read_back_as_it_was() -> None:
    trace = followed().trace
    back = parse_trace(trace_to_csv(trace))
    kept = [k for k, channel in enumerate(trace.channels) if channel.name != "right confidence"]  # it never changes
    assert [(c.point, c.axis, c.unit) for c in back.channels if c.axis] == [
        (c.point, c.axis, c.unit) for c in trace.channels if c.axis
    ]
    np.testing.assert_allclose(back.time, trace.time, atol=1e-6)
    np.testing.assert_allclose(back.values, trace.values[:, kept], atol=1e-3)


def test_a_dial_keeps_the_sd_of_its_marks_in_its_table_also_where_it_is_not_known() -> None:
    trace = replace(followed().trace, timing_sd={"left": 0.006, "right": np.inf})
    back = parse_trace(trace_to_csv(trace))
    assert back.timing_sd == {"left": 0.006, "right": np.inf}
    assert {c.point for c in back.channels if c.axis} == {"left", "right"}
