"""Films without a marker and what is true of them: two sets of one make, one to tune on and one to judge with.

The renderer is ``tests/generators/gym.py``. The seeds of the judging set were drawn before anything was tuned, and
nothing is changed after it was looked at.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from tests.generators import films, gym

if TYPE_CHECKING:
    from pathlib import Path

#: First seeds of the two sets.
TUNING, JUDGING = 100, 9000
#: SD of a hand-held phone's shift in pixels of a picture 640 wide: some ±6.
HELD = 3.0
CRF = 28
_BASE = gym.GymFilm(shake=HELD)
#: What is filmed, by name. The long cycle's place is drawn by the seed.
CASES: dict[str, gym.GymFilm] = {
    "mills": _BASE,
    "mills, tripod": replace(_BASE, shake=0.0),
    "mills, 60 a second": replace(_BASE, rate_hz=60.0),
    "mills, 120 a second": replace(_BASE, rate_hz=120.0),
    "mills, wall bars": replace(_BASE, ground="bars"),
    "mills, shaken 2.5 times": replace(_BASE, shake=2.5 * HELD),
    "figure eight": replace(_BASE, kind="figure_eight", period=1.2),
    "arms": replace(_BASE, kind="arms", period=1.1),
    "rope's end": replace(_BASE, kind="rope_end", period=0.7),
    "carried mills": replace(_BASE, kind="carried", period=1.6),
    "whole body": replace(_BASE, kind="body", period=0.9),
    "two clubs": replace(_BASE, kind="two_clubs"),
    "low contrast": replace(_BASE, ground="pale", contrast=0.35),
    "a walker behind": replace(_BASE, walkers=2),
    "a walker in front": replace(_BASE, walkers=1, in_front=True),
    "plain wall": replace(_BASE, ground="plain"),
    "plain wall, tripod": replace(_BASE, ground="plain", shake=0.0),
}

#: Films in which nothing repeats that could be counted: she shifts her weight, others walk.
NOTHING: dict[str, gym.GymFilm] = {
    "nobody moves": replace(_BASE, kind="nothing"),
    "nobody moves, tripod": replace(_BASE, kind="nothing", shake=0.0),
    "others walk": replace(_BASE, kind="nothing", walkers=2),
    "others walk, tripod": replace(_BASE, kind="nothing", walkers=3, shake=0.0),
}


def make(case: str, seed: int, *, clean: bool = False) -> gym.GymFilm:
    """Return the film of a case: without a long cycle where it is to be clean."""
    rng = np.random.default_rng([seed, 0])
    base = (CASES | NOTHING)[case]
    return replace(base, seed=seed, long_at=None if clean else int(rng.integers(3, base.cycles - 3)))


def render(film: gym.GymFilm, path: Path) -> Path:
    """Write a film once; one that is there is kept."""
    if not path.exists():
        part = path.with_suffix(".part.mp4")
        films.write_film(part, gym.pictures(film), size=film.size, crf=CRF, preset="veryfast")
        part.rename(path)
    return path
