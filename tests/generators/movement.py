"""Seeded movement with exact truth: circles, mills, carried mills, rope, and what sensors on them would read.

Everything is made from phases: a smooth, strictly ascending function of time that passes each whole number at a
known instant. Positions follow from phases by geometry, and accelerations and rotation rates are the exact
derivatives of the same splines, with gravity where an accelerometer feels it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.interpolate import CubicSpline, PchipInterpolator

from tempo_coach.observe.trace.trace import Channel, Trace

GRAVITY = 9.80665


@dataclass(frozen=True, eq=False)
class Movement:
    """A generated trace and what is true of it.

    ``circles`` are the instants at which the (small) circles pass their low point, ``cycles`` those at which
    the carrying cycle passes its own, ``events`` further instants by name.
    """

    trace: Trace
    circles: dict[str, np.ndarray]
    cycles: np.ndarray
    places: np.ndarray


def ticks(rng: np.random.Generator, n: int, period: float, *, jitter: float = 0.02, start: float = 0.3) -> np.ndarray:
    """Instants of n + 1 whole phases: each period off by the jitter (a fraction, SD)."""
    return start + np.concatenate([[0.0], np.cumsum(period * (1 + jitter * rng.standard_normal(n)))])


class Phase:
    """A smooth phase that is k at the k-th instant, running on evenly at both ends."""

    def __init__(self, instants: np.ndarray, turns: np.ndarray | None = None) -> None:
        numbers = np.arange(instants.size, dtype=float) if turns is None else turns
        first, last = instants[1] - instants[0], instants[-1] - instants[-2]
        t = np.concatenate([instants[0] - first * np.arange(3, 0, -1), instants, instants[-1] + last * np.arange(1, 4)])
        k = np.concatenate([numbers[0] - np.arange(3, 0, -1), numbers, numbers[-1] + np.arange(1, 4)])
        smooth = CubicSpline(t, k)
        fine = np.linspace(t[0], t[-1], 40 * t.size)
        self.spline = smooth if (smooth(fine, 1) > 0).all() else PchipInterpolator(t, k)

    def __call__(self, time: np.ndarray, derivative: int = 0) -> np.ndarray:
        return self.spline(time, derivative)


def clock(duration: float, rate_hz: float) -> np.ndarray:
    return np.arange(round(duration * rate_hz)) / rate_hz


def noisy(rng: np.random.Generator, values: np.ndarray, share: float) -> np.ndarray:
    """Add white noise of that share of the motion's amplitude (√2 times its largest SD)."""
    amplitude = np.sqrt(2) * values.std(axis=0).max()
    return values + share * amplitude * rng.standard_normal(values.shape)


def circle(
    seed: int,
    *,
    n: int = 1000,
    rate_hz: float = 100.0,
    frequency: float = 2.0,
    noise: float = 0.1,
    radius: float = 1.0,
    sense: int = 1,
) -> tuple[Trace, float]:
    """A steady circle in white noise, and its phase at the record's centre in radians (0 = at the right)."""
    rng = np.random.default_rng(seed)
    phase = rng.uniform(0, 2 * np.pi)
    time = np.arange(n) / rate_hz
    angle = phase + sense * 2 * np.pi * frequency * (time - time.mean())
    values = radius * np.column_stack([np.cos(angle), np.sin(angle)])
    return positions(time, values + noise * rng.standard_normal(values.shape)), phase


def positions(time: np.ndarray, *points: np.ndarray, names: tuple[str, ...] = ("",), unit: str = "m") -> Trace:
    channels = [
        Channel(f"{name}_{axis}".strip("_"), "position", axis, name, unit)
        for name, values in zip(names, points, strict=True)
        for axis in "xyz"[: values.shape[1]]
    ]
    return Trace(time, np.column_stack(points), channels)


def turning(angle: np.ndarray, radius: float, sense: int) -> np.ndarray:
    """Positions of a circle whose angle (turns) is 0 at its low point."""
    return radius * np.column_stack([sense * np.sin(2 * np.pi * angle), -np.cos(2 * np.pi * angle)])


def mills(
    seed: int,
    *,
    n: int = 20,
    period: float = 0.6,
    lag: float = 0.5,
    jitter: float = 0.02,
    noise: float = 0.02,
    rate_hz: float = 100.0,
    radius: float = 0.55,
    sense: int = 1,
    fault: str = "",
    at: int = 10,
) -> Movement:
    """Two clubs in mills: equal periods, the second trailing by that part of a circle."""
    rng = np.random.default_rng(seed)
    lead = ticks(rng, n, period, jitter=jitter)
    lead, turns = break_at(lead, fault, at)
    trail = ticks(rng, 1, period, jitter=0)[:0]
    first = Phase(lead, turns)
    trail = lead + lag * period
    second = Phase(trail, turns)
    time = clock(trail[-1] + 0.3, rate_hz)
    one = turning(first(time), radius, sense) + np.array([-0.4, 1.2])
    two = turning(second(time), radius, sense) + np.array([0.4, 1.2])
    trace = positions(time, noisy(rng, one, noise), noisy(rng, two, noise), names=("first", "second"))
    return Movement(
        trace,
        {"first": low_points(first, time), "second": low_points(second, time)},
        low_points(first, time),
        np.empty(0),
    )


def circling(
    radii: np.ndarray, *, seed: int = 0, rate: float = 60.0, noise: float = 0.005, scatter: float = 0.02, name: str = ""
) -> Trace:
    """One circle after another, each of its radius and of about .8 s; the radius glides from one to the next."""
    rng = np.random.default_rng(seed)
    bounds = np.concatenate([[0.0], np.cumsum(0.8 * (1 + scatter * rng.standard_normal(radii.size)))])
    time = np.arange(0, bounds[-1], 1 / rate)
    phase = np.interp(time, bounds, np.arange(radii.size + 1.0))
    near = np.clip(phase - 0.5, 0, radii.size - 1)
    size = np.interp(near, np.arange(radii.size), radii * (1 + 0.02 * rng.standard_normal(radii.size)))
    path = size * np.exp(2j * np.pi * (phase + 0.25)) + 0.02 * np.sin(time / 2)
    path = path + noise * (rng.standard_normal(time.size) + 1j * rng.standard_normal(time.size))
    channels = [Channel(f"{name}{axis}", "position", axis, name, "m") for axis in "xz"]
    return Trace(time, np.column_stack([path.real, path.imag]), channels)


def low_points(phase: Phase, time: np.ndarray) -> np.ndarray:
    """Every instant within the record at which the phase is whole, by interpolation on a fine grid and polish."""
    values = phase(time)
    whole = np.arange(np.ceil(values[0]), np.floor(values[-1]) + 1)
    guess = np.interp(whole, values, time)
    for _ in range(8):
        slope = np.maximum(phase(guess, 1), 1e-3)
        guess = guess - np.clip((phase(guess) - whole) / slope, -0.02, 0.02)
    return guess


def break_at(instants: np.ndarray, fault: str, at: int) -> tuple[np.ndarray, np.ndarray]:
    """Return the instants with one fault between number ``at`` and the next, and the turns at each of them.

    ``long``: 20 % longer. ``missed``: the circle hangs for a period, then goes on. ``extra``: one circle more is
    squeezed into the period.
    """
    turns = np.arange(instants.size, dtype=float)
    if not fault:
        return instants, turns
    gap = instants[at + 1] - instants[at]
    out = instants.copy()
    if fault == "long":
        out[at + 1 :] += 0.2 * gap
    elif fault == "missed":
        out[at + 1 :] += gap
    elif fault == "extra":
        out = np.insert(out, at + 1, instants[at] + gap / 2)
        turns = np.arange(out.size, dtype=float)
    else:
        raise ValueError(fault)
    return out, turns


def carried(
    seed: int,
    *,
    n: int = 12,
    period: float = 1.6,
    ratio: int = 4,
    small: float = 0.3,
    big: float = 0.7,
    opposite: bool = False,
    jitter: float = 0.02,
    noise: float = 0.02,
    rate_hz: float = 100.0,
) -> Movement:
    """Mills carried round a bigger circle: ``ratio`` small circles a big one in the room's frame."""
    rng = np.random.default_rng(seed)
    slow = ticks(rng, n, period, jitter=jitter)
    fast = ticks(rng, n * ratio, period / ratio, jitter=jitter, start=0.37)
    arm, club = Phase(slow), Phase(fast)
    time = clock(min(slow[-1], fast[-1]), rate_hz)
    values = turning(arm(time), big, 1) + turning(club(time), small, -1 if opposite else 1)
    trace = positions(time, noisy(rng, values, noise))
    return Movement(trace, {"": low_points(club, time)}, low_points(arm, time), np.empty(0))


#: Where the wrist circles of the rope's figure eight fell in a good take, as parts of the arm's cycle from its
#: low point: one at the floor, one as the arm is almost up, one as it starts down (common practice).
SEEN = (0.0, 0.41, 0.62)


def rope(
    seed: int,
    *,
    n: int = 16,
    period: float = 2.0,
    places: tuple[float, ...] = SEEN,
    arm: float = 0.45,
    wrist: float = 0.35,
    jitter: float = 0.02,
    scatter: float = 0.01,
    noise: float = 0.02,
    rate_hz: float = 100.0,
    fault: str = "",
    at: int = 8,
) -> Movement:
    """The rope's figure eight: the arm rises and falls, the wrist circles at the given places of its cycle."""
    rng = np.random.default_rng(seed)
    slow = ticks(rng, n, period, jitter=jitter)
    if fault == "long":
        slow, _ = break_at(slow, "long", at)
    cycle = Phase(slow)
    spots = []
    for k in range(n):
        here = list(places)
        if k == at and fault == "missed":
            here = here[:-1]
        if k == at and fault == "extra":
            here = [*here, (here[-1] + 1) / 2]
        spots += [k + place for place in here]
    spots = np.array(spots) + scatter * rng.standard_normal(len(spots))
    fine = np.linspace(slow[0] - period, slow[-1] + period, 4000)
    instants = np.interp(spots, cycle(fine), fine)
    turn = Phase(instants)
    time = clock(slow[-1] + 0.2, rate_hz)
    height = -arm * np.cos(2 * np.pi * cycle(time))
    values = np.column_stack([np.zeros(time.size), height]) + turning(turn(time), wrist, 1)
    trace = positions(time, noisy(rng, values, noise))
    circles = low_points(turn, time)
    inside = circles[(circles > slow[0]) & (circles < slow[-1])]
    return Movement(trace, {"": circles}, low_points(cycle, time), cycle(inside) % 1)


def swung_rope(seed: int, *, n: int = 20, period: float = 1.2, arm: float = 0.6, rope: float = 0.3) -> Movement:
    """A rope's end and the hand in a figure eight: the arm swings on an arc, the rope turns about it in three bursts.

    The bursts lie at the arm's low point and on either side of its high one; between them the rope is still.
    """
    rng = np.random.default_rng(seed)
    cycle = Phase(ticks(rng, n, period))
    time = clock(n * period, 100)
    phase = cycle(time)
    raised = 0.2 + 1.3 * (1 - np.cos(2 * np.pi * phase))
    turns = np.zeros(time.size)
    for k in range(-2, n + 3):
        for middle in (k, k + 0.4, k + 0.65):
            part = np.clip((phase - middle) / 0.28 + 0.5, 0, 1)
            turns += part**3 * (10 - 15 * part + 6 * part**2)
    angle = raised - np.pi / 2 + 2 * np.pi * turns
    hand = arm * np.column_stack([np.sin(raised), -np.cos(raised)])
    end = hand + rope * np.column_stack([np.cos(angle), np.sin(angle)])
    trace = positions(time, noisy(rng, end, 0.01), noisy(rng, hand, 0.01), names=("rope", "hand"))
    return Movement(trace, {"rope": np.empty(0)}, low_points(cycle, time), np.empty(0))


def sensor(seed: int, phase: Phase, time: np.ndarray, *, radius: float = 0.4, noise: float = 0.02) -> Trace:
    """What a sensor on the end of a circling club reads: specific force and rotation in its own axes.

    The club turns in the vertical plane x-z about y; its axis x points outwards along the club.
    """
    rng = np.random.default_rng(seed)
    angle = 2 * np.pi * phase(time)
    rate = 2 * np.pi * phase(time, 1)
    change = 2 * np.pi * phase(time, 2)
    outward = -radius * rate**2 + GRAVITY * -np.cos(angle)
    along = radius * change + GRAVITY * np.sin(angle)
    force = np.column_stack([outward, np.zeros(time.size), along])
    turn = np.column_stack([np.zeros(time.size), rate, np.zeros(time.size)])
    values = np.column_stack(
        [
            force + noise * force.std() * rng.standard_normal(force.shape),
            turn + noise * np.abs(rate).mean() * rng.standard_normal(turn.shape),
        ]
    )
    return Trace(
        time,
        values,
        [
            *(Channel(f"a{axis}", "acceleration", axis, "", "m/s²") for axis in "xyz"),
            *(Channel(f"g{axis}", "rotation", axis, "", "rad/s") for axis in "xyz"),
        ],
    )


def cone(seed: int, phase: Phase, time: np.ndarray, *, tilt: float = 0.5, noise: float = 0.02) -> Trace:
    """Rotation rates of a wrist that circles on a cone of that half angle (rad) without spinning about itself.

    In the wrist's own axes the rate is (-Ω sin tilt sin ψ, Ω sin tilt cos ψ, Ω (cos tilt - 1)): it turns once a circle.
    """
    rng = np.random.default_rng(seed)
    angle, rate = 2 * np.pi * phase(time), 2 * np.pi * phase(time, 1)
    values = np.column_stack(
        [
            -rate * np.sin(tilt) * np.sin(angle),
            rate * np.sin(tilt) * np.cos(angle),
            rate * (np.cos(tilt) - 1),
        ]
    )
    values = values + noise * np.abs(rate).mean() * rng.standard_normal(values.shape)
    return Trace(time, values, [Channel(f"g{axis}", "rotation", axis, "", "rad/s") for axis in "xyz"])


@dataclass(frozen=True, eq=False)
class Toss:
    """A generated toss and its truth."""

    trace: Trace
    release: float
    catch: float
    speed: float
    angle_deg: float


def toss(
    seed: int,
    *,
    noise: float = 0.005,
    rate_hz: float = 100.0,
    speed: float | None = None,
    angle_deg: float | None = None,
) -> Toss:
    """An arm's swing that lets go, a flight without drag to the height of the release, and a catch that gives way."""
    rng = np.random.default_rng(seed)
    time = clock(5, rate_hz)
    release, drawn = 1.3 + rng.uniform(0, 0.01), rng.uniform(6, 9)
    speed = drawn if speed is None else speed
    drawn = rng.uniform(70, 84)
    angle = np.radians(drawn if angle_deg is None else angle_deg)
    catch = release + 2 * speed * np.sin(angle) / GRAVITY
    before, after = np.minimum(time - release, 0), np.maximum(time - catch, 0)
    arm = 0.7
    swing = np.maximum(speed / arm * before, -2.2)
    along, across = np.array([np.cos(angle), np.sin(angle)]), np.array([-np.sin(angle), np.cos(angle)])
    hand = arm * (np.sin(swing)[:, None] * along + (1 - np.cos(swing))[:, None] * across)
    flown = np.clip(time - release, 0, catch - release)
    flight = np.column_stack(
        [
            speed * np.cos(angle) * flown,
            speed * np.sin(angle) * flown - GRAVITY / 2 * flown**2,
        ]
    )
    give = 0.15 * (1 - np.exp(-after / 0.15))
    path = hand + flight + np.column_stack([np.zeros(time.size), -speed * np.sin(angle) * give]) + [0, 1.5]
    trace = positions(time, path + noise * rng.standard_normal(path.shape))
    return Toss(trace, release, catch, speed, float(np.degrees(angle)))


def tosses(
    seed: int, *, releases: np.ndarray, speed: float = 7.0, angle_deg: float = 80.0, noise: float = 0.005
) -> Toss:
    """Tosses let go at those instants, each as :func:`toss` makes one, carried back to the hand in between.

    The truth that is kept is that of the first.
    """
    made = [toss(seed + k, noise=0.0, speed=speed, angle_deg=angle_deg) for k in range(len(releases))]
    time = clock(releases[-1] + 4, 100)
    path = np.tile(made[0].trace.values[0], (time.size, 1))
    for release, each in zip(releases, made, strict=True):
        shifted = each.trace.time - each.release + release
        inside = (time >= shifted[0]) & (time <= each.catch - each.release + release + 1)
        for axis in range(2):
            path[inside, axis] = np.interp(time[inside], shifted, each.trace.values[:, axis])
    rng = np.random.default_rng(seed)
    first, flight = float(releases[0]), made[0].catch - made[0].release
    return Toss(
        positions(time, path + noise * rng.standard_normal(path.shape)), first, first + flight, speed, angle_deg
    )


def leave_picture(made: Toss, above: float) -> Toss:
    """The same toss as a camera has it whose picture ends at that height."""
    values = np.where(made.trace.values[:, 1:2] > above, np.nan, made.trace.values)
    return Toss(
        Trace(made.trace.time, values, made.trace.channels), made.release, made.catch, made.speed, made.angle_deg
    )


def dropped(seed: int, *, noise: float = 0.005, rate_hz: float = 100.0, bounce: float = 0.75) -> Toss:
    """A toss that nobody catches: it comes down on the floor and bounces with that part of its speed, five times."""
    rng = np.random.default_rng(seed)
    made = toss(seed, noise=0.0, rate_hz=rate_hz)
    across, up = made.speed * np.cos(np.radians(made.angle_deg)), made.speed * np.sin(np.radians(made.angle_deg))
    floor = made.release + (up + np.sqrt(up**2 + 2 * GRAVITY * 1.5)) / GRAVITY
    time = clock(floor + 6, rate_hz)
    hand = np.column_stack([np.interp(time, made.trace.time, column) for column in made.trace.values.T])
    since = time - made.release
    height = np.where(since > 0, 1.5 + up * since - GRAVITY / 2 * since**2, hand[:, 1])
    along = np.where(since > 0, across * np.minimum(since, floor - made.release + 1.5), hand[:, 0])
    speed, start = bounce * (GRAVITY * (floor - made.release) - up), floor
    for _ in range(5):
        since = time - start
        height = np.where(since > 0, np.maximum(speed * since - GRAVITY / 2 * since**2, 0), height)
        start, speed = start + 2 * speed / GRAVITY, bounce * speed
    path = np.column_stack([along, height])
    trace = positions(time, path + noise * rng.standard_normal(path.shape))
    return Toss(trace, made.release, floor, made.speed, made.angle_deg)
