"""Gymnasts who change places, small as a film of them is watched: discs with arms that turn. All invented.

Another renderer than ``gym.py``, where they are strokes. Bodies are discs, those who stand further back are drawn
first, and a walker passes before all of them.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from tests.generators import films

if TYPE_CHECKING:
    from collections.abc import Callable

    Way = Callable[[np.ndarray], np.ndarray]

#: Seconds, pictures a second and size in pixels; width of the pictures in which places are watched.
LENGTH, RATE, SIZE, WATCHED = 12.0, 8.0, (320, 180), 192
#: What a gymnast is made of around her place: across, down, radius, of her skin or of her dress.
_BODY = (
    (-4, 44, 4, False), (4, 44, 4, False), (-4, 36, 4, False), (4, 36, 4, False), (0, 24, 7, True),
    (0, 14, 8, True), (0, 4, 8, True), (0, -9, 6, False),
)  # fmt: skip
#: Her chest, on which a coach would point.
CHEST = np.array([0.0, 6.0])
_CLUB = (236, 230, 218)


@dataclass(frozen=True)
class Crossing:
    """Who walks to whose place, from when on and for how long; ``later`` seconds pass before the first of them does.

    ``bow`` is by how many pixels those who go to the right walk nearer to the camera, and the others further away.
    """

    to: dict[int, int]
    start: float = 6.0
    length: float = 1.5
    bow: float = 4.0
    later: float = 0.0

    def way(self, homes: np.ndarray, who: int) -> Way:
        """Her place at each time."""

        def place(times: np.ndarray) -> np.ndarray:
            times = np.atleast_1d(times)
            if who not in self.to:
                return np.repeat(homes[who][None], times.size, axis=0)
            aim = self.to[who]
            gone = np.clip((times - self.start - self.later * (who == min(self.to))) / self.length, 0, 1)
            gone = gone * gone * (3 - 2 * gone)
            down = (self.bow if who < aim else -self.bow) * np.sin(np.pi * gone)
            return homes[who] + (homes[aim] - homes[who]) * gone[:, None] + np.column_stack([0 * gone, down])

        return place

    @property
    def end(self) -> float:
        """When all stand again."""
        return self.start + self.length + self.later


def draw(seed: int, kind: str) -> Crossing:
    """Draw what happens: in a ``swap`` two change places, a ``rotation`` moves all on by one, ``nobody`` moves."""
    rng = np.random.default_rng([seed, 77])
    many = members(seed)
    start, length, bow = rng.uniform(1.5, 8.5), rng.uniform(0.8, 3), rng.uniform(0, 8)
    to: dict[int, int] = {}
    if kind == "swap":
        one = int(rng.integers(0, many - 1))
        other = one + 1 if rng.random() < 0.7 else int(rng.choice([k for k in range(many) if k != one]))
        to = {one: other, other: one}
    elif kind == "rotation":
        to = {k: (k + 1) % many for k in range(many)}
    return Crossing(to, start, length, bow, rng.uniform(0, 1) if rng.random() < 0.3 else 0.0)


def members(seed: int) -> int:
    return int(np.random.default_rng([seed, 78]).choice([2, 3, 4, 5]))


def stage(
    seed: int, many: int, crossing: Crossing, *, walker: bool = False, shake: float = 0.0
) -> tuple[films.Scene, np.ndarray, list[Way]]:
    """Return the scene, where each stands at first, and where she is at each time."""
    rng = np.random.default_rng([seed, 501])
    rows = np.where(np.arange(many) % 2 == 0, 80.0, 66.0) if many > 3 else np.full(many, 74.0)
    homes = np.column_stack([(np.arange(many) + 0.5) / many * SIZE[0] + rng.normal(0, 3, many), rows])
    period, own = rng.uniform(0.6, 1.1), rng.uniform(-0.06, 0.06, many)
    dress = tuple(int(v) for v in rng.integers(30, 240, 3))
    skin = tuple(int(v) for v in (rng.integers(120, 230), rng.integers(90, 180), rng.integers(70, 150)))
    hands = (-1, 1) if rng.random() < 0.5 else (-1,)
    ways = [crossing.way(homes, k) for k in range(many)]
    markers: dict[str, films.Marker] = {}
    for k in np.argsort(homes[:, 1], kind="stable").tolist():
        markers |= _person(f"{k}", ways[k], dress, skin)
        for side in hands:
            hand = _beside(ways[k], np.array([side * 9.0, 2.0]))

            def club(times: np.ndarray, side: int = side, hand: Way = hand, late: float = own[k]) -> np.ndarray:
                angle = 2 * np.pi * (np.asarray(times) / period + late) * side
                return hand(times) + 16 * np.column_stack([np.sin(angle), np.cos(angle)])

            def arm(times: np.ndarray, hand: Way = hand, club: Way = club) -> np.ndarray:
                return (hand(times) + club(times)) / 2

            markers[f"{k} club {side}"] = films.Marker(_CLUB, club, 4.0)
            markers[f"{k} arm {side}"] = films.Marker(skin, arm, 3.0)
    if walker:
        sense, pace, at = rng.choice([-1.0, 1.0]), rng.uniform(45, 90), rng.uniform(3, 8)
        clothes = tuple(int(v) for v in rng.integers(30, 200, 3))

        def passing(times: np.ndarray) -> np.ndarray:
            times = np.atleast_1d(times)
            return np.column_stack([SIZE[0] / 2 + sense * pace * (times - at), np.full(times.size, 84.0)])

        markers |= _person("walker", passing, clothes, (200, 160, 140))
    scene = films.Scene(markers, films.steady_times(LENGTH, RATE), SIZE, shake=shake, seed=seed)
    return scene, homes, ways


def watch(scene: films.Scene) -> tuple[np.ndarray, np.ndarray]:
    """Return the times and the brightness of the pictures, at the width at which places are watched."""
    import cv2

    size = (WATCHED, round(WATCHED * SIZE[1] / SIZE[0]))
    shown = list(films.pictures(scene))
    small = [
        cv2.resize(cv2.cvtColor(picture, cv2.COLOR_RGB2GRAY), size, interpolation=cv2.INTER_AREA)
        for _, picture in shown
    ]
    return np.array([time for time, _ in shown]), np.array(small)


def _person(name: str, way: Way, dress: tuple[int, ...], skin: tuple[int, ...]) -> dict[str, films.Marker]:
    return {
        f"{name} body {k}": films.Marker(dress if dressed else skin, _beside(way, np.array([x, y])), float(radius))
        for k, (x, y, radius, dressed) in enumerate(_BODY)
    }


def _beside(way: Way, off: np.ndarray) -> Way:
    return lambda times: way(times) + off
