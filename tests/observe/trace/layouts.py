"""Tables as sensors, trackers and people write them, and what each must give: columns, values and times, or a refusal.

The headers are written by hand from general conventions of such exports (common practice); no product is meant. The
readings under them are those of one invented movement, so that factors, signs and axes can be judged by their values.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from tempo_coach.errors import CoachError
from tempo_coach.observe.member_rows import read_members
from tempo_coach.observe.take.onsets import read_onsets
from tempo_coach.observe.trace.tables import read_trace
from tempo_coach.report.words.errors import say_error
from tempo_coach.report.words.reasons import say_reason

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from pathlib import Path

    from tempo_coach.times import Floats

G = 9.80665
DEGREE = np.pi / 180
TIME = np.arange(200) / 50
_ANGLE = 2 * np.pi * TIME / 0.8
#: What the movement is, in m, m/s² (with gravity) and rad/s.
MOVED: dict[str, Floats] = {
    "position": np.column_stack([0.4 * np.cos(_ANGLE), 0.1 * np.sin(_ANGLE + 1), 1.3 + 0.4 * np.sin(_ANGLE)]),
    "acceleration": np.column_stack([2 * np.sin(_ANGLE), 0.7 * np.cos(_ANGLE), G + 1.5 * np.cos(_ANGLE + 0.4)]),
    "rotation": np.column_stack([7.5 + np.sin(_ANGLE), 0.8 * np.cos(_ANGLE), 0.5 * np.sin(_ANGLE + 0.7)]),
}
POSITION, ACCELERATION, ROTATION = MOVED["position"], MOVED["acceleration"], MOVED["rotation"]
LENGTH = np.linalg.norm(ACCELERATION, axis=1)
UNITS = {"position": "m", "acceleration": "m/s²", "rotation": "rad/s"}
#: A second point does the same, larger, so that the two cannot be taken for one another.
SECOND = 1.25

#: Quantity, point, axes, and how much larger than the movement it is.
Told = tuple[str, str, str, float]


@dataclass(frozen=True, eq=False)
class Layout:
    """One table, and what it must give.

    Parameters
    ----------
    name : str
    content : bytes
    gives : sequence of Told
        What can be used of it, in any order; no other column may be taken for something that moves.
    refused : str
        A word that the refusal has, where the table alone does not tell.
    file : str
        Its name.
    units, rate_hz, time_column
        Options that answer.
    time : numpy.ndarray
        Its times in seconds, from the first.
    said : str
        A word that one of the notes has.
    """

    name: str
    content: bytes
    gives: Sequence[Told] = ()
    refused: str = ""
    file: str = "recording.csv"
    units: Mapping[str, str] = field(default_factory=dict)
    rate_hz: float | None = None
    time: Floats = field(default_factory=lambda: TIME)
    said: str = ""


def write(
    header: str, *columns: Floats | Sequence[str], mark: str = ",", comma: bool = False, encoding: str = "utf-8"
) -> bytes:
    """Return a table: lines of header, and columns of numbers or words under it."""
    cells: list[list[str]] = []
    for column in columns:
        table = np.asarray(column)
        if table.dtype.kind in "US":
            cells.append([str(cell) for cell in table])
            continue
        for numbers in np.atleast_2d(table.T):
            written = [f"{value:.6f}" if abs(value) < 1e7 else f"{value:.0f}" for value in numbers]
            cells.append([cell.replace(".", ",") for cell in written] if comma else written)
    lines = [mark.join(row) for row in zip(*cells, strict=True)]
    return ("\n".join([header, *lines]) + "\n").encode(encoding)


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


def judge(layout: Layout, folder: Path) -> str:
    """Return what is wrong with what a table gives; empty where nothing is."""
    path = folder / layout.file
    path.write_bytes(layout.content)
    try:
        trace = read_trace(path, units=layout.units, rate_hz=layout.rate_hz)
    except CoachError as error:
        return "" if layout.refused and layout.refused in say_error(error) else f"refused: {say_error(error)}"
    if layout.refused:
        return f"not refused, but read as {[(c.quantity, c.axis, c.point) for c in trace.channels]}"
    if trace.time.size != layout.time.size or not np.allclose(
        trace.time - trace.time[0], layout.time - layout.time[0], atol=2e-4
    ):
        return f"times {trace.time[:3]} to {trace.time[-1]}, {trace.time.size} of them"
    wanted = {
        (quantity, axis, point): size * (MOVED[quantity][:, "xyz".index(axis)] if axis else LENGTH)
        for quantity, point, axes, size in layout.gives
        for axis in (axes or ("",))
    }
    got = {
        (c.quantity, c.axis, c.point): (c.unit, trace.values[:, k])
        for k, c in enumerate(trace.channels)
        if c.quantity != "other"
    }
    if set(got) != set(wanted):
        return f"expected {sorted(wanted)}, got {sorted(got)}"
    for key, numbers in wanted.items():
        unit, values = got[key]
        if unit != UNITS[key[0]]:
            return f"{key} is in {unit!r}"
        known = ~np.isnan(values)
        # between two stamps of another sensor a reading is drawn as a line, which the ends of the table do not have
        if known.mean() < 0.98 or np.abs(values - numbers)[known].max() > 0.04 * np.ptp(numbers) + 1e-4:
            return f"{key} runs from {values[known].min():.4g} to {values[known].max():.4g}"
    if layout.said and not any(layout.said in note for note in map(say_reason, trace.notes)):
        return f"nothing says {layout.said}"
    return ""


#: Tables of onsets: name, content; all of right at 1.5 s and left at 2.25 s.
ONSETS = {
    "German": "Zeit;Hand\n1,5;rechts\n2,25;links\n".encode("cp1252"),
    "German in ms, tabs": b"Zeit (ms)\tHand\n1500\tR\n2250\tL\n",
    "French": b"temps;main\n1,5;droite\n2,25;gauche\n",
    "Spanish": "tiempo,mano,remarca\n1.5,derecha,señal\n2.25,izquierda,\n".encode("cp1252"),
    "Italian": "tempo;mano\n1,5;destra\n2,25;sinistra\n".encode("utf-16"),
    "comments above": b"# tapped by the coach\ntime,hand\n1.5,right\n2.25,left\n",
    "quoted": b'"hand","time"\n"right","1.5"\n"left","2.25"\n',
}
#: Tables of members: Ada at 1.5 s and Zoë at 2.25 s.
MEMBERS = {
    "German": "Zeit;Mitglied\n1,5;Ada\n2,25;Zoë\n".encode("cp1252"),
    "French": "temps;nom\n1,5;Ada\n2,25;Zoë\n".encode(),
    "Spanish": "tiempo;miembro\n1,5;Ada\n2,25;Zoë\n".encode("utf-16"),
    "Italian": "tempo\tmembro\n1,5\tAda\n2,25\tZoë\n".encode(),
}


def judge_onsets(content: bytes, folder: Path) -> str:
    """Return what is wrong with the onsets that a table gives."""
    path = folder / "onsets.csv"
    path.write_bytes(content)
    try:
        onsets = read_onsets(path, hands=("right", "left"))
    except CoachError as error:
        return f"refused: {say_error(error)}"
    found = list(zip(onsets.time.tolist(), onsets.hand, strict=True))
    return "" if found == [(1.5, "right"), (2.25, "left")] else f"got {found}"


def judge_members(content: bytes, folder: Path) -> str:
    """Return what is wrong with the members that a table gives."""
    path = folder / "members.csv"
    path.write_bytes(content)
    try:
        found = {member: rows.time for member, rows in read_members(path).items()}
    except CoachError as error:
        return f"refused: {say_error(error)}"
    return "" if found == {"Ada": (1.5,), "Zoë": (2.25,)} else f"got {found}"
