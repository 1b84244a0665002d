"""A gym as a phone in somebody's hand films it: a body with limbs, a club without tape, people who walk. Invented.

Another renderer than ``films.py``, which draws the discs that markers are: here nothing is coloured for the purpose.
What moves is drawn in anti-aliased strokes several times within each exposure and averaged in linear light, before a
hall that the camera sees through a similarity of its own (shift, roll, zoom). The truth is the phase of the movement.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from tests.generators import movement

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from typing import Protocol

    class Drawn(Protocol):
        """What draws itself at a time, in strokes: colour, thickness and points in pixels of the hall."""

        def strokes(self, time: float) -> list[tuple[tuple[float, float, float], float, np.ndarray]]: ...


#: What is done; ``two_clubs`` has a second phase, and in ``nothing`` she stands and shifts her weight.
KINDS = ("mills", "arms", "figure_eight", "rope_end", "carried", "two_clubs", "body", "nothing")
GROUNDS = ("hall", "bars", "pale", "plain")
_WARP = 0.35
_PARTS = 5
_FINE = 4  # bits of a fraction of a pixel
_GAMMA = 2.2


@dataclass(frozen=True)
class GymFilm:
    """One film: what is done where, on which clock, through which camera.

    ``cycles`` periods of ``period`` seconds with an SD of ``spread``; the one at ``long_at`` lasts ``long_by`` more.
    ``shake`` is the SD of the hand's shift in pixels of a picture 640 wide; roll and zoom go with it.
    """

    kind: str = "mills"
    ground: str = "hall"
    rate_hz: float = 30.0
    cycles: int = 20
    period: float = 0.9
    spread: float = 0.025
    long_at: int | None = None
    long_by: float = 0.2
    shake: float = 0.0
    walkers: int = 0
    in_front: bool = False
    contrast: float = 1.0
    size: tuple[int, int] = (640, 360)
    exposure: float = 0.010
    noise: float = 2.5
    still: float = 0.7
    lag: float = 0.5
    seed: int = 0

    def instants(self) -> np.ndarray:
        """Instants at which a cycle begins, the last one's end included."""
        rng = np.random.default_rng([self.seed, 1])
        periods = self.period * (1 + self.spread * rng.standard_normal(self.cycles))
        if self.long_at is not None:
            periods[self.long_at] *= 1 + self.long_by
        return self.still + np.concatenate([[0.0], np.cumsum(periods)])

    def times(self) -> np.ndarray:
        """Times of the pictures, unsteady as a phone's are."""
        length = float(self.instants()[-1]) + self.still
        k = np.arange(int(length * self.rate_hz))
        off = np.clip(0.03 * np.random.default_rng([self.seed, 2]).standard_normal(k.size), -0.3, 0.3)
        return (k + np.where(k > 0, off, 0)) / self.rate_hz

    def camera(self, time: float) -> np.ndarray:
        """The similarity from the hall to the picture at a time, shape (2, 3), in pixels of the picture."""
        rng = np.random.default_rng([self.seed, 3])
        rate, phase = rng.uniform(0.2, 3.0, (4, 6)), rng.uniform(0, 2 * np.pi, (4, 6))
        weight = 1 / np.sqrt(rate)
        x, y, roll, zoom = (weight * np.sin(2 * np.pi * rate * time + phase)).sum(axis=1) / np.sqrt(
            (weight**2).sum(axis=1) / 2
        )
        wide = self.size[0] / 640
        angle, scale = 0.0008 * self.shake * roll, 1 + 0.0007 * self.shake * zoom
        turn = scale * np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
        middle = np.array(self.size) / 2
        return np.column_stack([turn, middle - turn @ middle + wide * self.shake * np.array([x, y])])


def pictures(film: GymFilm, body: Drawn | None = None) -> Iterator[tuple[float, np.ndarray]]:
    """Yield time and picture (height, width, 3), RGB, of a body that draws itself; by default that of the film."""
    import cv2

    rng = np.random.default_rng([film.seed, 4])
    width, height = film.size
    margin = int(8 * film.shake * width / 640) + 8
    ground = _ground(film, rng, width + 2 * margin, height + 2 * margin)
    grains = [(film.noise * rng.standard_normal((height, width, 3))).astype(np.float32) for _ in range(5)]
    body = body or Body(film)
    for k, time in enumerate(film.times()):
        light = np.zeros((height, width, 3), np.float32)
        for part in (np.arange(_PARTS) + 0.5) / _PARTS - 0.5:
            at = float(time + part * film.exposure)
            seen = film.camera(at) if film.shake else np.array([[1.0, 0, 0], [0, 1.0, 0]])
            onto = seen.copy()
            onto[:, 2] -= seen[:, :2] @ np.array([margin, margin])
            drawn = cv2.warpAffine(ground, onto, film.size, flags=cv2.INTER_LINEAR, borderMode=cv2.BORDER_REFLECT)
            strokes = body.strokes(at)
            strokes = [*strokes, *_walkers(film, at)] if film.in_front else [*_walkers(film, at), *strokes]
            for colour, thick, points in strokes:
                places = points @ seen[:, :2].T + seen[:, 2]
                fixed = np.round(places * (1 << _FINE)).astype(np.int32)
                if len(fixed) == 1:
                    centre = (int(fixed[0, 0]), int(fixed[0, 1]))
                    cv2.circle(drawn, centre, round(thick / 2 * (1 << _FINE)), colour, -1, cv2.LINE_AA, _FINE)
                else:
                    thickness = max(1, round(thick))
                    cv2.polylines(drawn, [fixed], False, colour, thickness, cv2.LINE_AA, _FINE)
            light += cv2.LUT(drawn, _TO_LIGHT)
        shown = 255 * (light / _PARTS) ** np.float32(1 / _GAMMA)
        shown += np.roll(grains[k % 5], int(rng.integers(1 << 16)), axis=0)
        yield float(time), np.clip(shown + 0.5, 0, 255).astype(np.uint8)


_TO_LIGHT = ((np.arange(256) / 255) ** _GAMMA).astype(np.float32)


class Team:
    """Gymnasts who do the same in one film, alike and each in her place: in two rows, those behind drawn first.

    ``late`` are the seconds by which each cycle of each begins behind the film's instants, shape (members, cycles + 1);
    ``way`` gives the place of one at a time where they do not stand, as shares of the picture.
    """

    def __init__(
        self,
        film: GymFilm,
        late: np.ndarray,
        *,
        scale: float = 0.5,
        way: Callable[[int, float], np.ndarray] | None = None,
    ) -> None:
        first = Body(film)
        rng = np.random.default_rng([film.seed, 7])
        self.film, self.way = film, way
        front = (len(late) + 1) // 2
        columns = (np.arange(len(late)) + 0.5) / len(late)
        rows = np.where(np.arange(len(late)) % 2 == 0, 0.36, 0.24) if len(late) > 3 else np.full(len(late), 0.32)
        self.places = np.column_stack([columns + 0.01 * rng.standard_normal(len(late)), rows])
        self.order = np.argsort(rows, kind="stable")
        self.bodies = []
        for k, behind in enumerate(late):
            body = Body(replace(film, seed=1000 * film.seed + k))
            body.unit = scale * film.size[1] / 360 * (1.0 if k < front or len(late) <= 3 else 0.97)
            body.sense, body.dress, body.skin = first.sense, first.dress, first.skin
            body.warp = first.warp[0] + 0.05 * rng.standard_normal(), first.warp[1] + 0.1 * rng.standard_normal()
            body.squeeze = first.squeeze + 0.04 * rng.standard_normal()
            own = film.instants() + behind
            body.phase, (body.first, body.last) = movement.Phase(own), own[[0, -1]]
            self.bodies.append(body)

    def place(self, member: int, time: float) -> np.ndarray:
        """The middle of a member's chest, in pixels of the hall."""
        share = self.places[member] if self.way is None else self.way(member, time)
        return np.asarray(share) * self.film.size + self.bodies[member].unit * np.array([0, 22])

    def strokes(self, time: float) -> list[tuple[tuple[float, float, float], float, np.ndarray]]:
        out = []
        for member in self.order.tolist():
            body = self.bodies[member]
            body.at = self.place(member, time) - body.unit * np.array([0, 22])
            out += body.strokes(time)
        return out


class Body:
    """A gymnast in strokes: what of her moves with the phase, and what sways by itself."""

    def __init__(self, film: GymFilm) -> None:
        rng = np.random.default_rng([film.seed, 5])
        self.film = film
        self.unit = film.size[1] / 360
        self.at = np.array([film.size[0] * rng.uniform(0.4, 0.6), film.size[1] * 0.30])
        self.phase = movement.Phase(film.instants())
        self.first, self.last = film.instants()[[0, -1]]
        self.sway = rng.uniform(0, 2 * np.pi, 3)
        self.warp = rng.uniform(-_WARP, _WARP), rng.uniform(0, 2 * np.pi)
        self.sense = rng.choice([-1.0, 1.0])
        self.squeeze = rng.uniform(0.75, 1.0)
        wall = np.array([150.0, 148.0, 142.0])
        self.dress, self.skin, self.thing = (
            tuple(float(v) for v in wall + film.contrast * (np.array(colour) - wall))
            for colour in ((58, 60, 78), (205, 160, 135), (236, 230, 218))
        )

    def angle(self, time: float, behind: float = 0.0) -> tuple[float, float]:
        """Angle of the movement, uneven within a cycle but alike in every one, and the phase; still at both ends."""
        phase = float(self.phase(np.array([np.clip(time, self.first, self.last)]))[0]) - behind
        size, shift = self.warp
        turned = 2 * np.pi * phase
        return turned + size * (np.sin(turned + shift) - np.sin(shift)), phase

    def strokes(self, time: float) -> list[tuple[tuple[float, float, float], float, np.ndarray]]:
        u, kind = self.unit, self.film.kind
        angle, phase = self.angle(time)
        if kind == "nothing":
            phase = 3 * np.sin(0.37 * time + self.sway[2]) + 2 * np.sin(0.83 * time + self.sway[0])
        sway = (
            u
            * 2.2
            * np.array([np.sin(np.pi * phase + self.sway[0]), 0.5 * np.sin(2 * np.pi * 0.31 * time + self.sway[1])])
        )
        head, chest, hips = (self.at + sway * share + u * np.array(place) for share, place in
                             ((1.2, (0, -8)), (1.0, (0, 22)), (0.6, (0, 82))))  # fmt: skip
        feet = [self.at + u * np.array([side * 16, 200]) for side in (-1, 1)]
        if kind == "body":  # jumping jacks: all of her
            rise = (1 - np.cos(angle)) / 2
            up = np.array([0, -10 * u * np.sin(np.pi * rise)])
            head, chest, hips = head + up, chest + up, hips + up
            feet = [self.at + up + u * np.array([side * (12 + 34 * rise), 200]) for side in (-1, 1)]
        out = [(self.skin, 11 * u, np.array([hips + u * np.array([side * 8, 0]), feet[k]]))
               for k, side in enumerate((-1, 1))]  # fmt: skip
        out += [(self.dress, 34 * u, np.array([chest, hips])), (self.skin, 22 * u, head[None])]
        for k, side in enumerate((-1, 1)):
            shoulder = chest + u * np.array([side * 17, -6])
            moves = kind in ("two_clubs", "body", "arms") or (side == self.sense and kind != "nothing")
            behind = self.film.lag if kind == "two_clubs" and k else 0.0
            out += self._arm(shoulder, side, *self.angle(time, behind)) if moves else self._resting(shoulder, side)
        return out

    def _resting(self, shoulder: np.ndarray, side: int) -> list[tuple[tuple[float, float, float], float, np.ndarray]]:
        u = self.unit
        return [(self.skin, 9 * u, np.array([shoulder, shoulder + u * np.array([side * 8, 64])]))]

    def _arm(
        self, shoulder: np.ndarray, side: int, angle: float, phase: float
    ) -> list[tuple[tuple[float, float, float], float, np.ndarray]]:
        u, kind = self.unit, self.film.kind
        if kind == "body":
            raised = np.pi * 0.45 * (1 - np.cos(angle))
            return [(self.skin, 9 * u, np.array([shoulder, shoulder + 70 * u * np.array(
                [side * np.sin(raised), np.cos(raised)])]))]  # fmt: skip
        around = np.array([self.squeeze * side * np.sin(angle), np.cos(angle)])
        if kind == "arms":
            return [(self.skin, 9 * u, np.array([shoulder, shoulder + 68 * u * around]))]
        if kind == "carried":  # the arm carries the club's circle around; three small circles a cycle
            hand = shoulder + 58 * u * around
            small = 3 * angle
            tip = hand + 40 * u * np.array([np.sin(small), np.cos(small)])
        elif kind == "figure_eight":
            hand = shoulder + u * np.array([side * 44 + 46 * np.sin(angle) * side, 18 + 22 * np.sin(2 * angle)])
            small = 2 * angle
            tip = hand + 46 * u * np.array([np.sin(small) * side, np.cos(small)])
        else:
            hand = shoulder + u * np.array([side * 52, 6]) + 7 * u * around
            tip = hand + (46 if kind != "rope_end" else 74) * u * around
        elbow = (shoulder + hand) / 2 + u * np.array([side * 3, 9])
        arm = (self.skin, 9 * u, np.array([shoulder, elbow, hand]))
        if kind == "rope_end":
            lean = np.array([-around[1], around[0]]) * side
            bow = [hand + (tip - hand) * s - 9 * u * lean * s * s for s in np.linspace(0, 1, 7)]
            return [arm, (self.thing, 3 * u, np.array(bow)), (self.thing, 7 * u, bow[-1][None])]
        return [arm, (self.thing, 4 * u, np.array([hand, tip])), (self.thing, 11 * u, tip[None])]


def _walkers(film: GymFilm, time: float) -> list[tuple[tuple[float, float, float], float, np.ndarray]]:
    out = []
    u = film.size[1] / 360
    for k in range(film.walkers):
        rng = np.random.default_rng([film.seed, 6, k])
        way, pace, begin = rng.uniform(45, 95) * rng.choice([-1, 1]), rng.uniform(0.8, 1.15), rng.uniform(0, 900)
        x = (begin + way * time) % 900 - 130
        step = 2 * np.pi * pace * time
        hip = u * np.array([x, 178 + 2 * np.sin(2 * step)])
        chest, head = hip - u * np.array([0, 62]), hip - u * np.array([0, 88])
        shade = tuple(float(v) for v in rng.uniform(40, 190, 3))
        for side in (-1, 1):
            foot = hip + u * np.array([24 * side * np.sin(step), 108])
            hand = chest + u * np.array([-18 * side * np.sin(step), 58])
            out += [(shade, 12 * u, np.array([hip, foot])), (shade, 8 * u, np.array([chest, hand]))]
        out += [(shade, 32 * u, np.array([chest, hip])), ((190.0, 150.0, 128.0), 20 * u, head[None])]
    return out


def _ground(film: GymFilm, rng: np.random.Generator, width: int, height: int) -> np.ndarray:
    import cv2

    floor = np.arange(height)[:, None, None] > 0.72 * height
    ground = np.where(floor, np.float32([172, 158, 140]), np.float32([150, 148, 142])) * np.ones(
        (height, width, 1), np.float32
    )
    if film.ground == "plain":
        return np.clip(ground, 0, 255).astype(np.uint8)
    for cells, size in ((14, 7), (50, 5), (180, 4)):
        coarse = rng.standard_normal((max(2, cells * height // width), cells)).astype(np.float32)
        ground += size * cv2.resize(coarse, (width, height), interpolation=cv2.INTER_CUBIC)[..., None]
    strength = 16 if film.ground == "pale" else 48
    for _ in range(28):
        left, top = rng.integers(0, width - 20), rng.integers(0, height - 20)
        wide, high = rng.integers(6, width // 8), rng.integers(6, height // 7)
        ground[top : top + high, left : left + wide] += rng.uniform(-strength, strength, 3).astype(np.float32)
    if film.ground == "bars":  # wall bars: the same again and again
        for y in range(0, int(0.7 * height), max(6, height // 26)):
            ground[y : y + 3, width // 10 : width * 9 // 10] = rng.uniform(90, 120)
        for x in range(width // 10, width * 9 // 10, width // 9):
            ground[: int(0.7 * height), x : x + 4] = 96
    return np.clip(ground, 0, 255).astype(np.uint8)
