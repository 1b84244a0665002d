"""Films without a marker: cycles found, their periods' errors, the long one told, and what is refused.

The films are those of ``unmarked_films.py``, rendered when they are wanted: a film takes some 20 s of a processor. How
many of each case: ``TEMPO_COACH_FILMS`` (1); where they are kept: ``TEMPO_COACH_FILMS_IN`` (nowhere). Rows are by case;
the last ones name the worst.
"""

from __future__ import annotations

import os
import tempfile
import time
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from tempo_coach.errors import CoachError
from tempo_coach.observe.film.frames import look_at_film
from tempo_coach.observe.film.motion import Region, follow_motion
from tempo_coach.observe.trace.selection import pick
from tempo_coach.observe.trace.tracked_body import observe
from tempo_coach.score.trace.study import study
from tests.benchmarks import unmarked_films
from tests.benchmarks.table import Row
from tests.generators import movement

if TYPE_CHECKING:
    from collections.abc import Iterator

    from tests.generators.gym import GymFilm

#: Distance from the true instant within which a mark is right, in cycles.
_RIGHT = 0.25
#: Cases whose camera cannot be known: no cycle may be called uneven there.
_UNKNOWN = ("plain wall", "plain wall, tripod")
#: Cases with a wider floor: somebody walks through, or all is pale.
_HARD = ("a walker in front", "a walker behind", "low contrast")


class Measured(NamedTuple):
    """One film against its truth: marks, errors of periods in ms, flags, seconds a picture, SD in ms told of a mark."""

    right: int
    asked: int
    errors: np.ndarray
    told: bool
    false: int
    seconds: float
    sd: float


def run() -> Iterator[Row]:
    many = int(os.environ.get("TEMPO_COACH_FILMS", "1"))
    with tempfile.TemporaryDirectory() as scratch:
        folder = Path(os.environ.get("TEMPO_COACH_FILMS_IN", scratch))
        worst = {"SD": (0.0, ""), "largest": (0.0, ""), "marks": (100.0, "")}
        told = []
        false = films = 0
        costs = []
        for case in unmarked_films.CASES:
            found = [
                one
                for k in range(many)
                if (one := measure(unmarked_films.make(case, unmarked_films.JUDGING + k), _film(folder, case, k)))
            ]
            refused = many - len(found)
            if case in _UNKNOWN:
                yield Row(f"{case}: refused, of {many}", refused, "films")
            if not found:
                yield Row(f"{case}: marks right", 0.0, "%", 98, 100, "high")
                worst["marks"] = (0.0, case)
                continue
            errors = np.concatenate([one.errors for one in found])
            marks = 100 * sum(one.right for one in found) / (sum(one.asked for one in found) * many / len(found))
            floor = None if case in _UNKNOWN else (12.0 if case in _HARD else 8.0)
            yield Row(f"{case}: marks right", marks, "%", 98, 100, "high")
            yield Row(f"{case}: period error, SD", float(errors.std()), "ms", floor, 5)
            yield Row(f"{case}: period error, largest", float(np.abs(errors).max()), "ms", floor and 25, 15)
            costs += [one.seconds for one in found]
            if case in _UNKNOWN:
                flagged = sum(one.false + one.told for one in found)
                yield Row(f"{case}: cycles called uneven", flagged, "cycles", 0)
                continue
            told += [one.told for one in found]
            false += sum(one.false for one in found)
            films += len(found)
            for name, value, further in (
                ("SD", float(errors.std()), True),
                ("largest", float(np.abs(errors).max()), True),
                ("marks", marks, False),
            ):
                if (value > worst[name][0]) == further:
                    worst[name] = (value, case)
        for name, (value, case) in worst.items():
            yield Row(f"worst {name}: {case}", value, "%" if name == "marks" else "ms")
        yield Row("the long cycle told", 100 * float(np.mean(told)), "%", 95, 100, "high")
        yield Row(f"other cycles called uneven, in {films} films", false, "cycles")
        yield Row("processor time a picture of 640 x 360", 1000 * float(np.median(costs)), "ms")
        accepted = 0
        for case in unmarked_films.NOTHING:
            for k in range(2 * many):
                path = _film(folder, case, 50 + k)
                accepted += (
                    measure(unmarked_films.make(case, unmarked_films.JUDGING + 50 + k, clean=True), path) is not None
                )
        yield Row(f"nothing repeats: accepted, of {len(unmarked_films.NOTHING) * 2 * many}", accepted, "films", 0)


def measure(film: GymFilm, path: Path) -> Measured | None:
    """Follow one film and compare it with its truth; None where it is refused."""
    begin = time.process_time()
    try:
        filmed = follow_motion(look_at_film(path), [Region("her")])
    except CoachError:
        return None
    seconds = (time.process_time() - begin) / len(film.times())
    circles = observe(pick(filmed.trace, point="her")).circles
    instants = film.instants()
    phase = movement.Phase(instants)
    fine = np.linspace(0, instants[-1] + film.still, 20_000)
    places = np.interp(circles.time, fine, phase(fine))
    # where in the cycle it is marked is its own choice, one for the whole film
    off = float(np.angle(np.exp(2j * np.pi * places).mean()) / (2 * np.pi))
    off += float(np.median((places - off + 0.5) % 1 - 0.5))
    off = (off + 0.5) % 1 - 0.5
    asked = [k for k in range(instants.size) if -0.02 <= k + off <= instants.size - 1 + 0.02]
    nearest = [int(np.abs(places - k - off).argmin()) for k in asked]
    right = np.array([abs(places[at] - k - off) < _RIGHT for at, k in zip(nearest, asked, strict=True)])
    true = np.interp(np.array(asked) + off, phase(fine), fine)
    both = right[1:] & right[:-1]
    errors = 1000 * (np.diff(circles.time[nearest]) - np.diff(true))[both]
    flags = [flag for _, flag in study(filmed.trace).uneven]
    told, false = False, 0
    for flag in flags:
        # a mark within a cycle shares its length with the neighbour's
        mine = (
            film.long_at is not None and abs(phase(np.array([(flag.start + flag.end) / 2]))[0] - film.long_at - 0.5) < 1
        )
        told |= mine and flag.kind == "long"
        false += not mine
    return Measured(int(right.sum()), len(asked), errors, told, false, seconds, 1000 * filmed.timing_sd["her"])


def _film(folder: Path, case: str, k: int) -> Path:
    seed = unmarked_films.JUDGING + k
    film = unmarked_films.make(case, seed, clean=case in unmarked_films.NOTHING)
    return unmarked_films.render(film, folder / f"{case.replace(' ', '_')}.{seed}.mp4")
