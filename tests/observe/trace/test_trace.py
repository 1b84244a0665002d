"""A trace keeps its promises when it is made, cut and put on another clock."""

import numpy as np
import pytest

from tempo_coach.observe.trace.trace import Channel, Trace, cut, shift
from tests.refused import refused


def many() -> Trace:
    time = np.arange(6) / 10
    channels = [
        Channel("left_y", "position", "y", "left", "m"),
        Channel("right_ax", "acceleration", "x", "right", "m/s²"),
    ]
    return Trace(time, np.column_stack([np.sin(time), 3 * time]), channels, notes=["read"])


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
    with refused(r"runs from 0\.000 to 0\.500"):
        cut(many(), 2, 3)
    with pytest.raises(ValueError, match="positive"):
        shift(many(), offset=0, rate=0)
