"""Gymnasts of one film who change places: who is no longer known, who is without need, and where they stand after it.

The renderer is ``tests/generators/crossings.py``. Films of each kind: ``TEMPO_COACH_CROSSINGS`` (10), some two seconds
of a processor each; the first seed: ``TEMPO_COACH_SEED`` (40000; films of 30000 on were looked at while it was made).
"""

from __future__ import annotations

import os
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from tempo_coach.observe.film.after_crossing import find_standing_again
from tempo_coach.observe.film.own_places import find_nearest_pixels, watch_places
from tests.benchmarks.table import Row
from tests.generators import crossings

if TYPE_CHECKING:
    from collections.abc import Iterator

#: How far from a gymnast's chest her number may stand after a crossing, in shares of the least distance of two places.
_ON_HER = 0.5
#: Percent of those who keep their places of whom it may be said that they are unknown; behind a walker all are.
_WITHOUT_NEED = {"swap": 25.0, "nobody": 5.0}
#: Seconds that a film has to go on after a crossing for all to be found.
_AFTER = 4.5


class Judged(NamedTuple):
    """One film: who changed places, who of them was taken for another one, who was said unknown without need.

    ``found`` is whether all were found standing after it, None where nobody had to be asked for or the film is over
    too early; ``waited`` the seconds until then after a change of places.
    """

    members: int
    changed: int
    mistaken: int
    without_need: int
    found: bool | None
    waited: float


def run() -> Iterator[Row]:
    many, first = int(os.environ.get("TEMPO_COACH_CROSSINGS", "10")), int(os.environ.get("TEMPO_COACH_SEED", "40000"))
    for k, kind in enumerate(("swap", "rotation", "nobody", "walker")):
        found = [judge(first + 1000 * k + seed, kind) for seed in range(many)]
        changed, still = sum(one.changed for one in found), sum(one.members - one.changed for one in found)
        if changed:
            yield Row(f"{kind}: taken for another one, of {changed}", sum(one.mistaken for one in found), "people", 0)
        if still:
            share = 100 * sum(one.without_need for one in found) / still
            yield Row(f"{kind}: unknown without need, of {still}", share, "%", _WITHOUT_NEED.get(kind))
        asked = [one for one in found if one.found is not None]
        if asked:
            told = 100 * sum(bool(one.found) for one in asked) / len(asked)
            yield Row(f"{kind}: all found after it, of {len(asked)}", told, "%", 95, 100, "high")
            if changed:
                yield Row(f"{kind}: seconds until then, at most", max(one.waited for one in asked), "s")


def judge(seed: int, kind: str) -> Judged:
    """Watch one film, and compare with its truth."""
    crossing, many = crossings.draw(seed, kind), crossings.members(seed)
    scene, homes, ways = crossings.stage(seed, many, crossing, walker=kind == "walker")
    times, pictures = crossings.watch(scene)
    scale = crossings.WATCHED / crossings.SIZE[0]
    known = watch_places(
        times, pictures, find_nearest_pixels(homes + crossings.CHEST, pictures.shape[1:], crossings.SIZE)
    )
    fine = np.linspace(0, crossings.LENGTH, 600)
    walked = np.array([way(fine) for way in ways])
    mistaken = without = 0
    for k, home in enumerate(homes):
        # where somebody else is nearer to her place than she is, or she nearer to another one's
        other = np.hypot(*np.moveaxis(walked - home, -1, 0)).argmin(axis=0) != k
        mistaken += bool(other.any()) and not known.until[k] <= fine[other.argmax()]
        without += not other.any() and np.isfinite(known.until[k])
    found, waited = None, 0.0
    left = min(known.until)
    if np.isfinite(left) and (not crossing.to or crossing.end < crossings.LENGTH - _AFTER):
        places = find_standing_again(times, pictures, left, scale * (homes + crossings.CHEST))
        found = places is not None and _on_them(places.at / scale, np.array([way(fine)[-1] for way in ways]))
        waited = 0.0 if places is None else places.since - crossing.end
    return Judged(many, len(crossing.to), mistaken, without, found, waited)


def _on_them(found: np.ndarray, true: np.ndarray) -> bool:
    """Whether each one has a place found on her, and each place one on it."""
    if len(found) != len(true):
        return False
    far = np.hypot(*np.moveaxis((found[:, None] - true - crossings.CHEST) * (1, 0.5), -1, 0))
    apart = np.hypot(*np.moveaxis((true[:, None] - true) * (1, 0.5), -1, 0))
    least = apart[~np.eye(len(true), dtype=bool)].min()
    return sorted(far.argmin(axis=1).tolist()) == list(range(len(true))) and far.min(axis=1).max() < _ON_HER * least
