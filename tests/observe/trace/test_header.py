"""What the name of a column says of it."""

import pytest

from tempo_coach.observe.trace.header import quantity_of, read_name, read_names, read_time_name


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
        ("zrychlení x [m/s2]", "acceleration", "x", "", "m/s²"),
        ("Ускорение левая Z (g)", "acceleration", "z", "левая", "m/s²"),
        ("加速度Y", "acceleration", "y", "", ""),
        ("hastighed x", "other", "x", "", ""),
    ],
)
def test_a_name_says_what_the_column_is(name: str, quantity: str, axis: str, point: str, unit: str) -> None:
    channel = read_name(name).channel
    assert (channel.quantity, channel.axis, channel.point, channel.unit) == (quantity, axis, point, unit)


@pytest.mark.parametrize(
    ("name", "unit"),
    [
        ("time", None),
        ("Time (s)", 1.0),
        ("time_ms", 1e-3),
        ("Timestamp [us]", 1e-6),
        ("epoch_ns", 1e-9),
        ("ms", 1e-3),
        ("tid", None),
        ("Tid [s]", 1.0),
        ("čas_ms", 1e-3),
        ("время (s)", 1.0),
    ],
)
def test_a_time_columns_name_gives_its_unit(name: str, unit: float | None) -> None:
    said = read_time_name(name)
    assert said is not None
    assert said.unit == unit
    assert said.exact


def told(*names: str) -> list[tuple[str, str, str]]:
    return [(c.quantity, c.axis, c.point) for c in (guess.channel for guess in read_names(names))]


def test_names_are_told_together() -> None:
    assert told("x_left", "y_left") == [("position", "x", "left"), ("position", "y", "left")]
    assert told("hand.X", "hand.Y", "hand.likelihood")[2] == ("other", "", "hand")
    assert told("maxx", "maxy") == [("position", "x", "max"), ("position", "y", "max")]
    # three numbers of one sensor are its axes, three sensors with axes of their own are not
    assert told("acc_0", "acc_1", "acc_2") == [("acceleration", axis, "") for axis in "xyz"]
    assert told("gyro[1]", "gyro[2]", "gyro[3]") == [("rotation", axis, "") for axis in "xyz"]
    assert told("acc1", "acc2")[0][1] == ""
    assert told("acc1x", "acc2x", "acc3x", "acc1y", "acc2y", "acc3y")[1] == ("acceleration", "x", "2")


def test_what_gravity_is_alone_is_no_reading() -> None:
    names = [
        "user_acceleration_x",
        "user_acceleration_y",
        "gravity_x",
        "gravity_y",
        "rotation_rate_x",
        "rotation_rate_y",
    ]
    assert [quantity for quantity, _, _ in told(*names)] == ["acceleration"] * 2 + ["other"] * 2 + ["rotation"] * 2
    assert told("acceleration including gravity x", "acceleration including gravity y")[0][0] == "acceleration"


@pytest.mark.parametrize(
    ("words", "quantity"),
    [("Accelerometer", "acceleration"), ("Gyroscope 2", "rotation"), ("gyro", "rotation"), ("a take", None)],
)
def test_a_files_name_says_what_its_columns_are(words: str, quantity: str | None) -> None:
    assert quantity_of(words) == quantity
