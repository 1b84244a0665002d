"""One mover is picked out of many columns, and the one that it is set against."""

from collections.abc import Iterator

import numpy as np
import pytest

from tempo_coach.observe.trace.selection import pick, pick_second
from tempo_coach.observe.trace.trace import Channel, Trace
from tests.refused import refused


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
    with refused(said):
        pick(many(), **asked)  # type: ignore[arg-type]  # the parameters vary on purpose


def test_the_second_mover_is_the_next_point_with_the_same_quantity_or_the_one_named() -> None:
    trace = many()
    assert pick_second(trace, pick(trace, point="right")) is None
    with refused("changes for still"):  # said, not passed over: it may be a sensor left off
        pick_second(trace, pick(trace, point="left"))
    named = pick_second(trace, pick(trace, point="left"), ["right"])
    assert named is not None and named.points == ("right",)
    columns = pick_second(trace, pick(trace, point="right"), ["left_gx"])
    assert columns is not None and columns.quantity == "rotation"


def test_a_column_that_is_named_like_a_point_is_the_column() -> None:
    time = np.arange(50) / 50
    channels = [Channel(name, "position", axis, name, "m") for name, axis in (("Ly_m", "y"), ("Ry_m", "y"))]
    trace = Trace(time, np.column_stack([np.sin(9 * time), np.cos(9 * time)]), channels)
    second = pick_second(trace, pick(trace, columns=["Ly_m"]), ["Ry_m"])
    assert second is not None
    assert [channel.name for channel in second.channels] == ["Ry_m"]


def test_a_thousand_points_are_gone_through_once_and_not_once_each() -> None:
    class Counted(tuple[Channel, ...]):
        gone_through = 0

        def __iter__(self) -> Iterator[Channel]:
            Counted.gone_through += 1
            return super().__iter__()

    values = np.ones((4, 1000))
    values[1, -1] = 2
    trace = Trace(np.arange(4.0), values, [Channel(f"p{k}_x", "position", "x", f"p{k}") for k in range(1000)])
    object.__setattr__(trace, "channels", Counted(trace.channels))
    assert pick(trace).points == ("p999",)
    assert Counted.gone_through < 10
