"""What the name of a column says of it."""

import pytest

from tempo_coach.observe.trace.header import read_name, read_time_name


@pytest.mark.parametrize(
    ("name", "quantity", "axis", "point", "unit"),
    [
        ("LeftWrist_accX (g)", "acceleration", "x", "LeftWrist", "m/s²"),
        ("ax", "acceleration", "x", "", ""),
        ("gz", "rotation", "z", "", ""),
        ("gyro_z [deg/s]", "rotation", "z", "", "rad/s"),
        ("club 1 y [px]", "position", "y", "club 1", "px"),
        ("x_mm", "position", "x", "", "m"),
        ("acc_x_g", "acceleration", "x", "", "m/s²"),
        ("wrist_pos_z_m", "position", "z", "wrist", "m"),
        ("Acceleration X(g)", "acceleration", "x", "", "m/s²"),
        ("AngularVelocity X(°/s)", "rotation", "x", "", "rad/s"),
        ("ball3_y", "position", "y", "ball3", ""),
        ("mx", "other", "x", "", ""),
        ("battery", "other", "", "battery", ""),
        ("velocity x", "other", "x", "", ""),
    ],
)
def test_a_name_says_what_the_column_is(name: str, quantity: str, axis: str, point: str, unit: str) -> None:
    channel = read_name(name).channel
    assert (channel.quantity, channel.axis, channel.point, channel.unit) == (quantity, axis, point, unit)


@pytest.mark.parametrize(
    ("name", "unit"),
    [("time", None), ("Time (s)", 1.0), ("time_ms", 1e-3), ("Timestamp [us]", 1e-6), ("epoch_ns", 1e-9), ("ms", 1e-3)],
)
def test_a_time_columns_name_gives_its_unit(name: str, unit: float | None) -> None:
    said = read_time_name(name)
    assert said is not None
    assert said.unit == unit
    assert said.exact
