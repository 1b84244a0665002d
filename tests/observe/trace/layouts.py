"""Tables as sensors, trackers and people write them, and what each must give: columns, values and times, or a refusal.

The headers are written by hand from general conventions of such exports (common practice); no product is meant.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from tests.observe.trace.layout_judge import (
    _ANGLE,
    ACCELERATION,
    DEGREE,
    LENGTH,
    POSITION,
    ROTATION,
    SECOND,
    TIME,
    G,
    Layout,
    Told,
    write,
)

if TYPE_CHECKING:
    from collections.abc import Sequence

    from tempo_coach.times import Floats
    from tests.observe.trace.layout_judge import Told


def _turns(axis: str = "xyz", point: str = "", size: float = 1.0) -> Told:
    return ("rotation", point, axis, size)


def _pulls(axis: str = "xyz", point: str = "", size: float = 1.0) -> Told:
    return ("acceleration", point, axis, size)


def _places(axis: str = "xyz", point: str = "", size: float = 1.0) -> Told:
    return ("position", point, axis, size)


def _mixed(*columns: Sequence[str]) -> list[str]:
    return [cell for row in zip(*columns, strict=True) for cell in row]


def _twice(table: Floats, size: float = SECOND) -> Floats:
    """Rows of two, one below the other at each stamp."""
    return np.stack([table, size * table], axis=1).reshape(2 * len(table), -1)


_MS = np.round(1000 * TIME)
_DATED = [f"2031-05-04T18:15:{t:06.3f}" for t in TIME]
_DAILY = [f"18:15:{t:06.3f}" for t in TIME]
_BOTH = np.repeat(TIME, 2)

LAYOUTS = [
    Layout("unit behind the axis", write("time_s,ax_g,ay_g,az_g", TIME, ACCELERATION / G), [_pulls()]),
    Layout("omega in a word", write("time,wx_rads,wy_rads,wz_rads", TIME, ROTATION), [_turns()]),
    Layout("three letters", write("t,gx,gy,gz", TIME, ROTATION / DEGREE), [_turns()]),
    Layout(
        "degrees a second",
        write("Timestamp (ms);gyr_x_dps;gyr_y_dps;gyr_z_dps", _MS, ROTATION / DEGREE, mark=";"),
        [_turns()],
    ),
    Layout(
        "whole words",
        write(
            "time,Accelerometer X,Accelerometer Y,Accelerometer Z,Gyroscope X,Gyroscope Y,Gyroscope Z",
            TIME,
            ACCELERATION,
            ROTATION,
        ),
        [_pulls(), _turns()],
    ),
    Layout("unit in two words", write("time_ms,acc_x_m_s2,acc_y_m_s2,acc_z_m_s2", _MS, ACCELERATION), [_pulls()]),
    Layout("unit in one word", write("time_ms,accXms2,accYms2,accZms2", _MS, ACCELERATION), [_pulls()]),
    Layout("omega by its name", write("time,omega_x_rad_s,omega_y_rad_s,omega_z_rad_s", TIME, ROTATION), [_turns()]),
    Layout(
        "points of one letter",
        write("time_s,Rx_m,Ry_m,Rz_m,Lx_m,Ly_m,Lz_m", TIME, POSITION, SECOND * POSITION),
        [_places(point="R"), _places(point="L", size=SECOND)],
    ),
    Layout(
        "German, decimal commas, old encoding",
        write(
            "Zeit (s);Beschleunigung x (m/s²);Beschleunigung y (m/s²);Beschleunigung z (m/s²)",
            TIME,
            ACCELERATION,
            mark=";",
            comma=True,
            encoding="cp1252",
        ),
        [_pulls()],
    ),
    Layout(
        "German turning rate",
        write("Zeit;Drehrate X (°/s);Drehrate Y (°/s);Drehrate Z (°/s)", TIME, ROTATION / DEGREE, mark=";", comma=True),
        [_turns()],
    ),
    Layout(
        "German angular velocity of two wrists, tabs",
        write(
            "Zeit [ms]\t"
            + "\t".join(
                f"Handgelenk {s} Winkelgeschwindigkeit {a} [rad/s]" for s in ("links", "rechts") for a in "xyz"
            ),
            _MS,
            ROTATION,
            SECOND * ROTATION,
            mark="\t",
            comma=True,
            encoding="cp1252",
        ),
        [_turns(point="Handgelenk links"), _turns(point="Handgelenk rechts", size=SECOND)],
    ),
    Layout(
        "French",
        write(
            "temps (s);accélération x (m/s²);accélération y (m/s²);accélération z (m/s²);vitesse angulaire x (rad/s);"
            "vitesse angulaire y (rad/s);vitesse angulaire z (rad/s)",
            TIME,
            ACCELERATION,
            ROTATION,
            mark=";",
            comma=True,
        ),
        [_pulls(), _turns()],
    ),
    Layout(
        "Spanish",
        write(
            "tiempo (s),aceleración x (g),aceleración y (g),aceleración z (g),velocidad angular x (°/s),"
            "velocidad angular y (°/s),velocidad angular z (°/s)",
            TIME,
            ACCELERATION / G,
            ROTATION / DEGREE,
        ),
        [_pulls(), _turns()],
    ),
    Layout(
        "Spanish positions of a wrist",
        write(
            "tiempo (ms);posición muñeca x (cm);posición muñeca y (cm);posición muñeca z (cm)",
            _MS,
            100 * POSITION,
            mark=";",
            encoding="cp1252",
        ),
        [_places(point="muñeca")],
    ),
    Layout(
        "Italian",
        write(
            "tempo;accelerazione x;accelerazione y;accelerazione z;velocità angolare x;velocità angolare y;"
            "velocità angolare z",
            TIME,
            ACCELERATION,
            ROTATION,
            mark=";",
            comma=True,
        ),
        [_pulls(), _turns()],
    ),
    Layout(
        "Italian positions",
        write("tempo (s),posizione x (m),posizione y (m),posizione z (m)", TIME, POSITION),
        [_places()],
    ),
    Layout(
        "accelerometer by the file's name",
        write("time,x,y,z", TIME, 2 * ACCELERATION),
        [_pulls(size=2.0)],
        file="Accelerometer.csv",
    ),
    Layout(
        "gyroscope by the file's name", write("time,z,y,x", TIME, ROTATION[:, ::-1]), [_turns()], file="Gyroscope.csv"
    ),
    Layout("gravity tells m/s²", write("time,x,y,z", TIME, ACCELERATION), [_pulls()], said="gravity"),
    Layout("gravity tells g", write("time,x,y,z", TIME, ACCELERATION / G), [_pulls()], said="gravity"),
    Layout("nothing tells", write("time,x,y,z", TIME, ROTATION), refused="--unit rotation=deg/s"),
    Layout(
        "nothing tells, answered",
        write("time,x,y,z", TIME, ROTATION / DEGREE),
        [_turns()],
        units={"rotation": "deg/s"},
    ),
    Layout(
        "nothing tells, answered otherwise",
        write("time,X,Y,Z", TIME, 1000 * POSITION),
        [_places()],
        units={"position": "mm"},
    ),
    Layout("two are places", write("time,x,y", TIME, POSITION[:, :2]), [_places("xy")]),
    Layout("units alone", write("t [s];X [rad/s];Y [rad/s];Z [rad/s]", TIME, ROTATION, mark=";"), [_turns()]),
    Layout(
        "a column names the sensor, stamps interleaved",
        write(
            "time_s,sensor,x,y,z",
            np.column_stack([TIME, TIME + 0.004]).ravel(),
            _mixed(["accelerometer"] * 200, ["gyroscope"] * 200),
            np.stack([ACCELERATION, ROTATION], axis=1).reshape(400, 3),
        ),
        [_pulls(), _turns()],
    ),
    Layout(
        "a column names the point, stamps shared",
        write("time,point,x_m,y_m,z_m", _BOTH, _mixed(["left wrist"] * 200, ["right wrist"] * 200), _twice(POSITION)),
        [_places(point="left wrist"), _places(point="right wrist", size=SECOND)],
    ),
    Layout(
        "a column names the member, one below the other",
        write(
            "time;member;acc_x_g;acc_y_g;acc_z_g",
            np.tile(TIME, 2),
            ["Ada"] * 200 + ["Max"] * 200,
            np.concatenate([ACCELERATION, SECOND * ACCELERATION]) / G,
            mark=";",
        ),
        [_pulls(point="Ada"), _pulls(point="Max", size=SECOND)],
    ),
    Layout(
        "magnitude beside its axes",
        write("time (s),acc_x (m/s²),acc_y (m/s²),acc_z (m/s²),acc_magnitude (m/s²)", TIME, ACCELERATION, LENGTH),
        [_pulls()],
    ),
    Layout(
        "absolute beside its axes",
        write(
            "time_s,acceleration_x_m_s2,acceleration_y_m_s2,acceleration_z_m_s2,absolute_acceleration_m_s2",
            TIME,
            ACCELERATION,
            LENGTH,
        ),
        [_pulls()],
    ),
    Layout("magnitude alone", write("time (s),acceleration magnitude (m/s²)", TIME, LENGTH), [_pulls("")]),
    Layout(
        "UTF-16 with its mark",
        write("time_s\tax_g\tay_g", TIME, ACCELERATION[:, :2] / G, mark="\t", encoding="utf-16"),
        [_pulls("xy")],
    ),
    Layout(
        "UTF-16 without its mark",
        write("Zeit (s);Drehrate x (rad/s)", TIME, ROTATION[:, :1], mark=";", comma=True, encoding="utf-16-le"),
        [_turns("x")],
    ),
    Layout(
        "a row of units",
        write(
            "Time,Acc X,Acc Y,Acc Z,Gyro X,Gyro Y,Gyro Z\ns,g,g,g,deg/s,deg/s,deg/s",
            TIME,
            ACCELERATION / G,
            ROTATION / DEGREE,
        ),
        [_pulls(), _turns()],
    ),
    Layout(
        "comments and metadata above",
        write(
            "# recorded indoors, second try\nDevice;wrist band\nStart;2031-05-04 18:15\nRate;50 Hz\n\n"
            "Time (ms);Gyro X (°/s);Gyro Y (°/s);Gyro Z (°/s)",
            _MS,
            ROTATION / DEGREE,
            mark=";",
        ),
        [_turns()],
    ),
    Layout(
        "quoted cells with marks inside",
        write(
            '"Time, s","Acceleration, x (m/s²)","Acceleration, y (m/s²)","Acceleration, z (m/s²)","Note"',
            TIME,
            ACCELERATION,
            ['"warm, and quiet"'] * 200,
        ),
        [_pulls()],
    ),
    Layout(
        "columns named twice",
        write("time,x_m,y_m,x_m,y_m", TIME, POSITION[:, :2], SECOND * POSITION[:, :2]),
        [_places("xy"), _places("xy", point="2", size=SECOND)],
    ),
    Layout("epoch in ms", write("timestamp,accX,accY,accZ", 1_900_000_000_000 + _MS, ACCELERATION), [_pulls()]),
    Layout("date-times", write("datetime,ax,ay,az", _DATED, ACCELERATION), [_pulls()]),
    Layout("times of day", write("Uhrzeit;ax;ay;az", _DAILY, ACCELERATION, mark=";", comma=True), [_pulls()]),
    Layout("frames without times", write("frame,wrist_x,wrist_y", np.arange(200), POSITION[:, :2]), refused="--rate"),
    Layout(
        "frames and a rate",
        write("frame,wrist_x,wrist_y", np.arange(200), POSITION[:, :2]),
        [_places("xy", point="wrist")],
        rate_hz=50.0,
    ),
    Layout(
        "the point's name above its axes",
        write(",wrist,,,elbow,,\ntime,X,Y,Z,X,Y,Z", TIME, POSITION, SECOND * POSITION),
        [_places(point="wrist"), _places(point="elbow", size=SECOND)],
    ),
    Layout(
        "g where m/s² is written",
        write("time,acc_x (m/s²),acc_y (m/s²),acc_z (m/s²)", TIME, ACCELERATION / G),
        [_pulls()],
        said="gravity",
    ),
    Layout(
        "m/s² where g is written",
        write("time,ax_g,ay_g,az_g", TIME, ACCELERATION),
        [_pulls()],
        said="gravity",
    ),
    Layout(
        "much else beside it",
        write(
            "time,qw,qx,qy,qz,ax,ay,az,mx,my,mz,temperature,battery",
            TIME,
            np.column_stack([0.6 + 0.1 * np.cos(_ANGLE), 0.2 * np.sin(_ANGLE), 0.3 * np.cos(_ANGLE), 0.1 * TIME]),
            ACCELERATION,
            30 * np.column_stack([np.sin(_ANGLE), np.cos(_ANGLE), 1 + TIME]),
            21 + 0.01 * TIME,
            99 - 0.1 * TIME,
        ),
        [_pulls()],
    ),
]


_PULLED = write("t", TIME, ACCELERATION).decode().splitlines()[1:]

#: Written after the reader, as a second look at it.
SECOND_LOOK = [
    Layout(
        "units alone, a total and a number of the row",
        write("No.,Elapsed (s),X (g),Y (g),Z (g),Total (g)", np.arange(200), TIME, ACCELERATION / G, LENGTH / G),
        [_pulls()],
    ),
    Layout(
        "numbered sensors",
        write("ms,imu1_ax,imu1_ay,imu1_az,imu2_ax,imu2_ay,imu2_az", _MS, ACCELERATION, SECOND * ACCELERATION),
        [_pulls(point="imu1"), _pulls(point="imu2", size=SECOND)],
    ),
    Layout(
        "points between thousands",
        (
            "Zeit (ms);x (mm);y (mm)\n"
            + "".join(
                ";".join(f"{value:,.2f}".replace(",", "_").replace(".", ",").replace("_", ".") for value in row) + "\n"
                for row in np.column_stack([_MS, 1000 * SECOND * POSITION[:, 0], 1000 * POSITION[:, 1]])
            )
        ).encode(),
        [_places("x", size=SECOND), ("position", "", "y", 1.0)],
    ),
    Layout(
        "date and time of day in two columns",
        write(
            "Date;Time;gyro_x (deg/s);gyro_y (deg/s);gyro_z (deg/s)",
            ["04.05.2031"] * 200,
            _DAILY,
            ROTATION / DEGREE,
            mark=";",
        ),
        [_turns()],
    ),
    Layout(
        "a row for every axis",
        write(
            "time_s,sensor,axis,value",
            np.repeat(TIME, 6),
            (["acc"] * 3 + ["gyro"] * 3) * 200,
            ["x", "y", "z"] * 400,
            np.column_stack([ACCELERATION, ROTATION]).ravel(),
        ),
        [_pulls(), _turns()],
    ),
    Layout(
        "spaces between, names in a comment",
        write("% t ax ay az", TIME, ACCELERATION, mark="  "),
        [_pulls()],
        file="log.txt",
    ),
    Layout(
        "raised minus signs",
        write("Zeit [s];ω_x [rad·s⁻¹];ω_y [rad·s⁻¹];ω_z [rad·s⁻¹]", TIME, ROTATION, mark=";", comma=True),
        [_turns()],
    ),
    Layout(
        "the axis first",
        write(
            "Zeit [s];X-Beschleunigung [m/s^2];Y-Beschleunigung [m/s^2];Z-Beschleunigung [m/s^2]",
            TIME,
            ACCELERATION,
            mark=";",
        ),
        [_pulls()],
    ),
    Layout(
        "the header again in the middle, and a line below the end",
        b"time,ax,ay,az\n" + "\n".join([*_PULLED[:90], "time,ax,ay,az", *_PULLED[90:], "end of recording,,,"]).encode(),
        [_pulls()],
    ),
    Layout(
        "date-times to the nanosecond",
        write(
            "Timestamp,Left Wrist Gyro X (rad/s),Left Wrist Gyro Y (rad/s)",
            [f"{t}000000Z" for t in _DATED],
            ROTATION[:, :2],
        ),
        [_turns("xy", point="Left Wrist")],
    ),
]
