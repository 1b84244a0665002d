"""A trace keeps its promises, and one mover is picked out of many columns."""

import numpy as np
import pytest

from tempo_coach.errors import CoachError
from tempo_coach.observe.picking import pick
from tempo_coach.observe.trace import Channel, Trace, cut, shift


def many() -> Trace:
    time = np.arange(6) / 10
    wave = np.sin(time)
    return Trace(
        time,
        np.column_stack([wave, np.zeros(6), wave + 1, wave * 2, wave * 3]),
        [
            Channel("left_y", "position", "y", "left", "m"),
            Channel("still_x", "position", "x", "still", "m"),
            Channel("left_x", "position", "x", "left", "m"),
            Channel("left_gx", "rotation", "x", "left", "rad/s"),
            Channel("right_ax", "acceleration", "x", "right", "m/s²"),
        ],
        notes=["read"],
    )


def test_the_first_point_that_moves_is_picked_with_its_axes_in_order() -> None:
    found = pick(many())
    assert found.axes == ("x", "y")
    assert found.quantity == "position"
    assert found.unit == "m"


def test_a_point_gives_what_shows_circles_best() -> None:
    assert pick(many(), point="right").quantity == "acceleration"
    assert pick(many(), point="left", quantity="rotation").channels[0].name == "left_gx"


def test_columns_by_name_override_the_rest_and_keep_their_order() -> None:
    assert [c.name for c in pick(many(), columns=["left_y", "left_x"]).channels] == ["left_y", "left_x"]


@pytest.mark.parametrize(
    ("asked", "said"),
    [
        ({"point": "lefft"}, "did you mean left"),
        ({"columns": ["left_z"]}, "did you mean left_"),
        ({"columns": ["left_x", "left_gx"]}, "one quantity"),
        ({"columns": ["still_x"]}, "never changes"),
        ({"point": "still"}, "no column"),
    ],
)
def test_what_cannot_be_picked_is_said(asked: dict[str, object], said: str) -> None:
    with pytest.raises(CoachError, match=said):
        pick(many(), **asked)  # type: ignore[arg-type]  # the parameters vary on purpose


def test_values_are_copied_and_read_only() -> None:
    time, values = np.arange(3.0), np.zeros((3, 1))
    trace = Trace(time, values, [Channel("x", "position", "x")])
    values[0, 0] = 9
    assert trace.values[0, 0] == 0
    with pytest.raises(ValueError, match="read-only"):
        trace.values[0, 0] = 1


@pytest.mark.parametrize(
    ("time", "values", "names"),
    [
        ([0.0], [[1.0]], ["x"]),
        ([0.0, 0.0], [[1.0], [2.0]], ["x"]),
        ([0.0, 1.0], [[1.0]], ["x"]),
        ([0.0, 1.0], [[1.0], [np.inf]], ["x"]),
        ([0.0, 1.0], [[1.0, 1.0], [2.0, 2.0]], ["x", "x"]),
        ([0.0, 1.0], np.zeros((2, 0)), []),
    ],
)
def test_what_is_no_trace_is_refused(time: list[float], values: object, names: list[str]) -> None:
    with pytest.raises(ValueError, match="expected"):
        Trace(time, values, [Channel(name, "position", "x") for name in names])  # type: ignore[arg-type]  # wrong on purpose


def test_cut_and_shift_keep_everything_but_the_clock() -> None:
    trace = shift(cut(many(), 0.15, 0.45), offset=10.0, rate=1.00005)
    np.testing.assert_allclose(trace.time, np.array([0.2, 0.3, 0.4]) * 1.00005 + 10)
    assert trace.channels == many().channels
    assert trace.rate_hz == pytest.approx(10 / 1.00005)
    with pytest.raises(CoachError, match=r"runs from 0\.000 to 0\.500"):
        cut(many(), 2, 3)
    with pytest.raises(ValueError, match="positive"):
        shift(many(), offset=0, rate=0)
