"""The cycle as a line with its circles on it, and a path in dots."""

import numpy as np
import pytest

from tempo_coach.observe.trace.trace import Channel, Trace
from tempo_coach.observe.trace.tracked_body import observe
from tempo_coach.report.drawings.dial import draw_path, draw_places
from tempo_coach.score.trace.study import CirclePhase
from tests.generators import movement


def test_places_stand_on_a_line_from_low_point_to_low_point() -> None:
    names, taught, done = draw_places(
        [CirclePhase(0.0, 0.02, 9), CirclePhase(0.5, 0.1, 9)], taught=[0.25], width=88
    ).splitlines()
    assert [names.index(name) - 8 for name in ("low", "rise", "high", "fall")] == [0, 20, 40, 60]
    assert taught.index("□") - 8 == 20
    assert [k - 8 for k, letter in enumerate(done) if letter == "●"] == [0, 40]
    assert done.count("─") > 10


def test_a_path_is_drawn_to_scale_with_its_low_points_below() -> None:
    head, *rows = draw_path(observe(movement.carried(1, n=6).trace), width=40, height=20).splitlines()
    assert head.startswith("x y:")
    assert len(rows) <= 20
    assert max(map(len, rows)) <= 40
    # round, and a character is twice as high as it is wide
    assert max(map(len, rows)) == pytest.approx(2 * len(rows), rel=0.15)
    assert sum(row.count("●") for row in rows) >= 8
    swing = np.sin(6 * movement.clock(10, 100))[:, None]
    with pytest.raises(ValueError, match="plane"):
        draw_path(observe(Trace(movement.clock(10, 100), swing, [Channel("y", "position", "y")])))


def test_a_spread_goes_on_past_the_end_of_the_line_and_comes_in_at_its_start() -> None:
    _, done = draw_places([CirclePhase(0.0, 0.1, 9)], width=48).splitlines()
    row = done[8:].ljust(40)
    assert [k for k, sign in enumerate(row) if sign != " "] == [0, 1, 2, 3, 4, 36, 37, 38, 39]
    assert (row[0], row[36]) == ("●", "╶")


def test_no_place_is_a_line_with_nothing_on_it() -> None:
    names, done = draw_places([], width=48).splitlines()
    assert names.split() == ["low", "rise", "high", "fall"]
    assert done.split() == ["done"]


@pytest.mark.parametrize("width", [28, 40, 78, 120])
def test_places_of_any_cycle_keep_to_the_width(width: int) -> None:
    places = [CirclePhase(at, 0.09, 9) for at in (-0.001, 0.0, 0.33, 0.999, 1.0)]
    assert max(map(len, draw_places(places, taught=[0.0, 0.9999, 1.5], width=width).splitlines())) <= width


@pytest.mark.parametrize(("width", "height"), [(4, 2), (20, 30), (60, 5)])
def test_a_path_keeps_to_its_columns_and_rows(width: int, height: int) -> None:
    _, *rows = draw_path(observe(movement.carried(1, n=6).trace), width=width, height=height).splitlines()
    assert 0 < len(rows) <= height
    assert 0 < max(map(len, rows)) <= width
    assert all(sign in " ●" or 0x2800 < ord(sign) < 0x2900 for row in rows for sign in row)
