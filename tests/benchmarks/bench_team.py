"""A group in one film without markers: lags between its members against their truth, constant and by cycle.

A cycle's lag is the mean over the cycle around its mark, in what is measured and in the truth.

The renderer is ``tests/generators/gym.py``: gymnasts alike but for their build, in one or two rows, hand-held. The film
of a case takes some 20 s of a processor; where they are kept: ``TEMPO_COACH_FILMS_IN`` (nowhere).
"""

from __future__ import annotations

import os
import tempfile
import time
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from tempo_coach.coach.filmed_groups import FilmPlace, see_group
from tests.benchmarks import unmarked_films
from tests.benchmarks.table import Row
from tests.generators import films, gym, movement

if TYPE_CHECKING:
    from collections.abc import Iterator

#: First seed of the judging set; what was tuned on has 300 to 302 and 9200.
JUDGING = 9300
#: Cases: what is done, by how many, the length of a cycle.
CASES = {
    "mills, three": ("mills", 3, 0.9),
    "two clubs, five": ("two_clubs", 5, 0.9),
    "arms, five": ("arms", 5, 1.1),
    "whole body, five": ("body", 5, 0.9),
}
_CYCLES = 12
#: SD of a member's constant lag and of each cycle's own, in seconds; the second one is later still in three cycles.
_CONSTANT, _OWN, _APART = 0.04, 0.01, 0.12


class Measured(NamedTuple):
    """One film against its truth: ms of each member's constant lag to the first, of each cycle's, marks, seconds."""

    constant: np.ndarray
    changes: np.ndarray
    right: int
    asked: int
    seconds: float


def make(case: str, seed: int) -> tuple[gym.GymFilm, np.ndarray, gym.Team]:
    """Return the film of a case, how late each cycle of each member begins, and who is in it."""
    kind, members, period = CASES[case]
    film = gym.GymFilm(kind=kind, shake=unmarked_films.HELD, cycles=_CYCLES, period=period, seed=seed)
    rng = np.random.default_rng([seed, 77])
    late = _CONSTANT * rng.standard_normal((members, 1)) + _OWN * rng.standard_normal((members, _CYCLES + 1))
    late[1, 6:9] += _APART
    return film, late, gym.Team(film, late, scale=0.55)


def render(case: str, seed: int, path: Path) -> Path:
    """Write the film of a case once."""
    if not path.exists():
        film, _, team = make(case, seed)
        part = path.with_suffix(".part.mp4")
        films.write_film(part, gym.pictures(film, team), size=film.size, crf=unmarked_films.CRF, preset="veryfast")
        part.rename(path)
    return path


def measure(case: str, seed: int, path: Path) -> Measured:
    """Follow all in one film; what of the lags is not true, at whichever place of the cycle it was marked."""
    film, late, team = make(case, seed)
    begin = time.process_time()
    places = [FilmPlace(f"g{k}", str(path), tuple(team.place(k, 0.0).tolist())) for k in range(len(late))]
    takes, _ = see_group(places, plan=None, tempo_bpm=None)
    seconds = time.process_time() - begin
    phases = [movement.Phase(film.instants() + own) for own in late]
    fine = np.linspace(0, film.instants()[-1] + film.still, 30_000)
    passed = [
        np.interp(take.onsets.time, fine, phase(fine)) for take, phase in zip(takes.values(), phases, strict=True)
    ]
    place = float(np.angle(np.exp(2j * np.pi * np.concatenate(passed)).mean()) / (2 * np.pi))
    errors = np.full((len(late), _CYCLES + 2), np.nan)
    for k, (take, phase) in enumerate(zip(takes.values(), phases, strict=True)):
        number = np.round(passed[k] - place).astype(int)
        around = (np.arange(20) + 0.5) / 20 - 0.5
        true = np.interp((number + place)[:, None] + around, phase(fine), fine).mean(axis=1)
        errors[k, number] = 1000 * (take.onsets.time - true)
    lags = (errors - errors[0])[1:]
    constant = np.nanmedian(lags, axis=1)
    changes = (lags - constant[:, None])[~np.isnan(lags)]
    # the first and the last cycle have no lag that would be believed
    right = np.minimum((~np.isnan(errors)).sum(axis=1), _CYCLES - 1)
    return Measured(constant, changes, int(right.sum()), len(late) * (_CYCLES - 1), seconds)


def run() -> Iterator[Row]:
    with tempfile.TemporaryDirectory() as scratch:
        folder = Path(os.environ.get("TEMPO_COACH_FILMS_IN", scratch))
        for case in CASES:
            path = render(case, JUDGING, folder / f"{case.replace(' ', '_')}.{JUDGING}.mp4")
            found = measure(case, JUDGING, path)
            yield Row(f"{case}: marks inside", 100 * found.right / found.asked, "%", 98, 100, "high")
            yield Row(f"{case}: lag of a cycle, SD", float(found.changes.std()), "ms", 10, 5)
            yield Row(f"{case}: lag of a cycle, largest", float(np.abs(found.changes).max()), "ms")
            yield Row(f"{case}: constant lag, largest", float(np.abs(found.constant).max()), "ms", 10)
            yield Row(f"{case}: processor time a second of film", found.seconds / 12, "s")
