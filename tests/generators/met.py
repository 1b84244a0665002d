"""Films of what meets: hands that clap and a ball on the floor, with their sound a known time before the picture.

Before the gym of ``gym.py``, as a phone in somebody's hand films it. Hands come faster the nearer they are; they stay
together for a while or part at once. A ball falls and rises by gravity.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

import numpy as np

from tests.generators import contacts, films, gym

if TYPE_CHECKING:
    from pathlib import Path

SOUND_HZ = 48_000
#: Pixels a metre of a picture 360 high.
_METRE = 160.0


@dataclass(frozen=True)
class MetFilm(gym.GymFilm):
    """A film with contacts at instants of its picture; ``delay`` is by how much its sound comes before."""

    met: tuple[float, ...] = ()
    ball: bool = False
    delay: float = 0.0


def make(seed: int, *, ball: bool = False, count: int = 3, delay: float = 0.0, **how: object) -> MetFilm:
    """Return a film of a few contacts, none of two nearer than half a second."""
    rng = np.random.default_rng([seed, 20])
    met = 1.0 + np.cumsum(rng.uniform(0.55, 0.9, count))
    length = float(met[-1]) + 0.6
    base = {"kind": "nothing", "cycles": 1, "spread": 0.0, "still": 0.0, "period": length, "shake": 3.0, "seed": seed}
    return MetFilm(**(base | how), met=tuple(met.tolist()), ball=ball, delay=delay)  # type: ignore[arg-type]  # by name


def write(film: MetFilm, path: Path, **how: object) -> Path:
    """Write it, with its sound."""
    rng = np.random.default_rng([film.seed, 21])
    sound = 0.003 * rng.standard_normal(int(SOUND_HZ * (film.times()[-1] + 0.5)))
    for time in film.met:
        one = contacts.clap(rng)
        at = int(SOUND_HZ * (time - film.delay))
        part = sound[at : at + one.size]
        part += (0.6 / np.abs(one).max() * one)[: part.size]
    body = MeetingBody(film)
    return films.write_film(
        path, gym.pictures(film, body), size=film.size, sound=sound.astype(np.float32), crf=28, **how
    )  # type: ignore[arg-type]  # metadata and the like, by name


@dataclass
class MeetingBody:
    """A gymnast who claps, or beside whom a ball bounces."""

    film: MetFilm
    resting: gym.Body = field(init=False)

    def __post_init__(self) -> None:
        rng = np.random.default_rng([self.film.seed, 22])
        many = len(self.film.met)
        self.resting = gym.Body(replace(self.film, kind="nothing"))
        self.hold, self.back, self.pace = (rng.uniform(*room, many) for room in ((0.03, 0.15), (0, 0.5), (0.8, 1.3)))

    def strokes(self, time: float) -> list[tuple[tuple[float, float, float], float, np.ndarray]]:
        body, met = self.resting, np.array(self.film.met)
        out, u = body.strokes(time), body.unit
        if self.film.ball:
            after = int(np.searchsorted(met, time))
            start = met[after - 1] if after else met[0] - 0.6
            end = met[after] if after < met.size else met[-1] + 0.6
            high = max(0.0, 0.5 * 9.81 * (time - start) * (end - time)) * _METRE * u
            floor = body.at + u * np.array([70, 200])
            return [*out, ((210.0, 60.0, 50.0), 22 * u, (floor - np.array([0, high]))[None])]
        chest = body.at + u * np.array([2 * np.sin(1.7 * time), 22 + 0.8 * np.sin(2.3 * time)])
        out, apart = out[:-2], self._apart(time)
        for side in (-1, 1):
            shoulder = chest + u * np.array([side * 17, -6])
            hand = chest + np.array([side * (apart / 2 + 3 * u), 28 * u])
            out.append((body.skin, 9 * u, np.array([shoulder, shoulder + u * np.array([side * 16, 30]), hand])))
            out.append((body.skin, 11 * u, hand[None]))
        return out

    def _apart(self, time: float) -> float:
        """Pixels between the hands."""
        k = int(np.argmin(np.abs(np.array(self.film.met) - time)))
        since, far = time - self.film.met[k], 55 * self.resting.unit
        if since < 0:
            return float(far * (1 - np.exp(since * self.pace[k] / 0.12)))
        if self.back[k] > 0.25:
            return float(far * (1 - np.exp(-since * self.back[k] / 0.12)))
        return float(far * (1 - np.exp(-max(0.0, since - self.hold[k]) * 0.6 / 0.12)))
