"""Sensors worn on a moving body, generated with exact truth: kinds of movement, places, sensors, rates and defects.

Everything is computed on a fine clock from a body of three stiff links (upper arm, forearm and apparatus, or a leg),
then read at the sensor's own rate. A case is only asked where its period shows: where the readings without noise come
back after a half or a third of the cycle nearly as well as after the whole, nobody could tell from the readings.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy.interpolate import CubicSpline

from tempo_coach.observe.trace.trace import Channel, Trace

if TYPE_CHECKING:
    from collections.abc import Iterator

KINDS = ("circles", "swings", "skips", "waves", "eights")
PLACES = ("wrist", "upper arm", "ankle", "apparatus")
SENSORS = ("rotation", "acceleration", "position 3", "position 2", "magnitude")
DEFECTS = ("none", "grows", "drifts", "drop-outs", "still ends", "cut ends")
RATES_HZ = (25.0, 50.0, 100.0, 200.0)
NOISES = (0.0, 0.01, 0.03, 0.05)
GRAVITY = 9.80665
#: Periods in seconds that are usual for each kind.
USUAL = {
    "circles": (0.5, 2.0),
    "swings": (0.8, 2.5),
    "skips": (0.4, 0.8),
    "waves": (0.7, 3.0),
    "eights": (0.9, 2.2),
}
#: Readings without noise that come back after a part of the cycle at more than this likeness do not show the cycle.
SHOWN = 0.8
_FINE_HZ = 800.0


@dataclass(frozen=True, eq=False)
class Worn:
    """A generated trace and what is true of it.

    Parameters
    ----------
    kind, place, sensor, defect : str
    rate_hz, noise : float
    trace : Trace
        Columns of one mover.
    period : float
        Median of the true periods in seconds.
    turns : float
        Cycles from where the movement begins in the record to where it ends; no whole number where it is cut.
    start, end : float
        Seconds between which it moves.
    lost : float
        Cycles of which nothing was read.
    """

    kind: str
    place: str
    sensor: str
    defect: str
    rate_hz: float
    noise: float
    trace: Trace
    period: float
    turns: float
    start: float
    end: float
    lost: float


def make_set(seed: int, count: int) -> Iterator[Worn]:
    """Yield so many cases, kinds and defects in equal parts, the rest by lot."""
    rng = np.random.default_rng([seed, 7])
    done = 0
    while done < count:
        kind, defect = KINDS[done % len(KINDS)], DEFECTS[done // len(KINDS) % len(DEFECTS)]
        made = _make(rng, kind, defect)
        if made is not None:
            done += 1
            yield made


def make_together(seed: int, count: int) -> Iterator[dict[str, Trace]]:
    """Yield so many movements, each as a gyroscope, an accelerometer and a tracker at one place read it together.

    Readings come 100 times a second with 2 % noise; a movement is only asked where its period shows in all three.
    """
    rng = np.random.default_rng([seed, 11])
    done = 0
    while done < count:
        kind = KINDS[done % len(KINDS)]
        period = float(np.exp(rng.uniform(*np.log(USUAL[kind]))))
        number = int(rng.integers(12, 31))
        time, phase, begun, over, _ = _phase(rng, number, period, "none")
        point, frame = _move(rng, kind, "wrist", phase, _size(rng, phase, number, "none"))
        at = np.arange(begun + 0.01, over - 0.01, 0.01)
        seen = {}
        for sensor, quantity, unit in (
            ("rotation", "rotation", "rad/s"),
            ("acceleration", "acceleration", "m/s²"),
            ("position 3", "position", "m"),
        ):
            values = _read(rng, sensor, point, frame)
            if not _shows(values, phase):
                break
            read = np.column_stack([np.interp(at, time, column) for column in values.T])
            read = read + 0.02 * np.sqrt(values.var(axis=0).mean()) * rng.standard_normal(read.shape)
            seen[sensor] = Trace(at, read, [Channel(f"wrist {a}", quantity, a, "wrist", unit) for a in "xyz"])
        else:
            done += 1
            yield seen


def _make(rng: np.random.Generator, kind: str, defect: str) -> Worn | None:
    place = "ankle" if kind == "skips" and rng.random() < 0.5 else str(rng.choice([p for p in PLACES if p != "ankle"]))
    if kind == "swings" and rng.random() < 0.25:
        place = "ankle"
    sensor = str(rng.choice(SENSORS))
    rate, noise = float(rng.choice(RATES_HZ)), float(rng.choice(NOISES))
    period = float(np.exp(rng.uniform(*np.log(USUAL[kind]))))
    number = int(rng.integers(12, 31))
    time, phase, begun, over, lengths = _phase(rng, number, period, defect)
    size = _size(rng, phase, number, defect)
    point, frame = _move(rng, kind, place, phase, size)
    values = _read(rng, sensor, point, frame)
    inside = (time >= begun) & (time <= over)
    if not _shows(values[inside], phase[inside]):
        return None
    at = np.arange(time[0] + 0.01, time[-1] - 0.01, 1 / rate)
    at = at + np.clip(0.03 * rng.standard_normal(at.size), -0.2, 0.2) / rate
    read = np.column_stack([np.interp(at, time, column) for column in values.T])
    spread = np.sqrt(values[inside].var(axis=0).sum() / values.shape[1])
    read = read + noise * spread * rng.standard_normal(read.shape)
    lost = 0.0
    if defect == "drop-outs":
        for middle in rng.uniform(0.15, 0.85, 2) * (at[-1] - at[0]) + at[0]:
            long = rng.uniform(0.3, 1.0)
            read[np.abs(at - middle) < long / 2] = np.nan
            lost += np.ceil(long / period)
    quantity = {"rotation": "rotation", "acceleration": "acceleration", "magnitude": "acceleration"}.get(
        sensor, "position"
    )
    unit = {"rotation": "rad/s", "acceleration": "m/s²", "position": "m"}[quantity]
    axes = {1: ("",), 2: ("x", "z"), 3: ("x", "y", "z")}[read.shape[1]]
    channels = [Channel(f"{place} {axis}".strip(), quantity, axis, place, unit) for axis in axes]
    read_from, read_to = max(begun, float(at[0])), min(over, float(at[-1]))
    turns = float(np.interp(read_to, time, phase) - np.interp(read_from, time, phase))
    return Worn(
        kind,
        place,
        sensor,
        defect,
        rate,
        noise,
        Trace(at, read, channels),
        float(np.median(lengths)),
        turns,
        begun,
        over,
        lost,
    )


def _phase(rng: np.random.Generator, number: int, period: float, defect: str) -> tuple[np.ndarray, ...]:
    """Return the fine clock, the phase in cycles, where it begins and ends to move, and the cycles' lengths."""
    slower = 1.0 + (0.01 * rng.choice([-1, 1]) if defect == "drifts" else 0.0)
    lengths = period * slower ** np.arange(number) * (1 + np.clip(0.02 * rng.standard_normal(number), -0.05, 0.05))
    instants = np.concatenate([[0.0], np.cumsum(lengths)])
    first, last = (rng.uniform(0.15, 0.85, 2) * [1, -1] + [0, number]) if defect == "cut ends" else (0.0, float(number))
    course = CubicSpline(instants, np.arange(number + 1.0))
    begun, over = (float(np.interp(x, np.arange(number + 1.0), instants)) for x in (first, last))
    lead, tail = (0.0, 0.0) if defect != "still ends" else rng.uniform(1.5, 4.0, 2)
    time = np.arange(begun - lead, over + tail, 1 / _FINE_HZ)
    # it starts and stops within 0.3 of a cycle: how far it has come follows a straight line rounded off at both ends
    if defect == "still ends":
        soft = 0.3 * period
        ramp = np.clip((time - begun) / soft, 0, 1) * np.clip((over - time) / soft, 0, 1)
        rate = course(np.clip(time, begun, over), 1) * ramp**2 * (3 - 2 * ramp)
        phase = np.cumsum(rate) / _FINE_HZ
    else:
        phase = course(time)
    return time, phase, begun, over, lengths


def _size(rng: np.random.Generator, phase: np.ndarray, number: int, defect: str) -> np.ndarray:
    knots = np.arange(-1, number + 2)
    size = CubicSpline(knots, 1 + np.clip(0.05 * rng.standard_normal(knots.size), -0.1, 0.1))(phase)
    if defect == "grows":
        size = size * (0.4 + 0.6 * np.clip(phase / number, 0, 1))
    return np.asarray(size)


def _about(axis: np.ndarray, angle: np.ndarray) -> np.ndarray:
    """Rotations about one axis (Rodrigues), shape (n, 3, 3)."""
    x, y, z = axis / np.linalg.norm(axis)
    cross = np.array([[0, -z, y], [z, 0, -x], [-y, x, 0]])
    sin, cos = np.sin(angle)[:, None, None], np.cos(angle)[:, None, None]
    return np.eye(3) + sin * cross + (1 - cos) * (cross @ cross)


def _move(
    rng: np.random.Generator, kind: str, place: str, phase: np.ndarray, size: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    """Return where the sensor is and how it sits, on the fine clock."""
    turn = 2 * np.pi * phase
    side = np.array([0.15 * rng.standard_normal(), 1.0, 0.15 * rng.standard_normal()])
    fore = np.array([1.0, 0.2 * rng.standard_normal(), 0.1 * rng.standard_normal()])
    lean = np.zeros((phase.size, 3))
    if kind == "circles":
        shoulder = _about(side, turn + 0.2 * np.sin(turn + 1))
        elbow = _about(side, size * (0.3 + 0.2 * np.sin(turn)))
        lean[:, 0] = 0.02 * np.sin(turn)
    elif kind == "swings":
        shoulder = _about(side, size * (1.0 * np.sin(turn) + 0.15 * np.sin(2 * turn + 0.5)))
        elbow = _about(side, size * (0.2 + 0.25 * np.cos(turn)))
        lean[:, 0] = 0.02 * np.sin(turn)
    elif kind == "skips":
        up = np.maximum(np.sin(turn), -0.25) * 0.09
        kernel = np.hanning(max(3, int(0.05 * _FINE_HZ)))
        up = np.convolve(np.pad(up, kernel.size, mode="edge"), kernel / kernel.sum(), "same")[
            kernel.size : -kernel.size
        ]
        lean[:, 2] = size * up
        shoulder = _about(side, 0.3 + size * 0.1 * np.sin(turn))
        bend = 0.5 * np.sin(turn + 0.4) + 0.1 * np.sin(2 * turn)
        elbow = (
            _about(fore, turn) @ _about(side, size * 0.35)
            if place in ("wrist", "apparatus")
            else _about(side, size * bend)
        )
    elif kind == "waves":
        shoulder = _about(fore, 1.4 + size * (0.5 * np.sin(turn) + 0.08 * np.sin(2 * turn + 0.7)))
        elbow = _about(fore, size * 0.6 * np.sin(turn - 0.9))
        lean[:, 2] = 0.03 * size * np.sin(turn + 0.3)
    else:  # three wrist circles of unequal length within one rise and fall of the arm
        shoulder = _about(side, -1.5 + size * 1.2 * np.cos(turn))
        ends = np.array([0.0, 0.41, 0.82, 1.0])
        within = (
            CubicSpline(np.concatenate([ends[:-1] - 1, ends[:-1], ends + 1]), np.arange(10.0))(phase % 1) * 2 * np.pi
        )
        elbow = _about(fore, within) @ _about(side, 0.4 * size) @ _about(fore, -within)
    down = np.array([0.0, 0.0, -1.0])
    forearm = shoulder @ elbow
    if place == "upper arm":
        frame, point = shoulder, lean + 0.2 * (shoulder @ down)
    elif place == "ankle":
        leg = elbow if kind == "skips" else shoulder
        frame, point = leg, lean + 0.4 * (leg @ down)
    else:
        frame = forearm
        point = lean + 0.3 * (shoulder @ down) + (0.25 if place == "wrist" else 0.7) * (forearm @ down)
    return point, frame


def _read(rng: np.random.Generator, sensor: str, point: np.ndarray, frame: np.ndarray) -> np.ndarray:
    """Return what the sensor reads, mounted at any angle."""
    mount = _about(rng.standard_normal(3), np.array([rng.uniform(0, np.pi)]))[0]
    if sensor == "rotation":
        change = np.gradient(frame, 1 / _FINE_HZ, axis=0)
        spin = np.swapaxes(frame, -1, -2) @ change
        return np.column_stack([spin[:, 2, 1], spin[:, 0, 2], spin[:, 1, 0]]) @ mount.T
    if sensor in ("acceleration", "magnitude"):
        speed = np.gradient(point, 1 / _FINE_HZ, axis=0)
        pull = np.gradient(speed, 1 / _FINE_HZ, axis=0) + np.array([0, 0, GRAVITY])
        felt = np.einsum("nji,nj->ni", frame, pull) @ mount.T
        return felt if sensor == "acceleration" else np.linalg.norm(felt, axis=1)[:, None]
    return point if sensor == "position 3" else point[:, [0, 2]]


def _shows(values: np.ndarray, phase: np.ndarray) -> bool:
    """Tell whether the cycle shows against its half and its third, and at all."""
    per_cycle = 120
    even = np.arange(phase[0], phase[-1], 1 / per_cycle)
    rows = np.column_stack([np.interp(even, phase + 1e-9 * np.arange(phase.size), column) for column in values.T])
    rows = rows - rows.mean(axis=0)

    def like(lag: int) -> float:
        a, b = rows[:-lag], rows[lag:]
        return float(2 * (a * b).sum() / ((a**2).sum() + (b**2).sum()))

    return max(like(per_cycle // 2), like(per_cycle // 3)) < SHOWN < like(per_cycle)
