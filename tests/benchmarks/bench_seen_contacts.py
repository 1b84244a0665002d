"""The delay between sound and picture of a phone's films, from claps and from a ball, hand-held, against the truth.

Three contacts each; how many films of each kind: ``TEMPO_COACH_FILMS`` (4). The method was tuned on six films of other
seeds and of the same renderer. Wrong is what is off by more than 25 ms and was not refused.
"""

from __future__ import annotations

import os
import tempfile
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from tempo_coach.errors import CoachError
from tempo_coach.observe.film.frames import look_at_film
from tempo_coach.observe.film.seen_contacts import find_delay
from tests.benchmarks.table import Row
from tests.generators import met

if TYPE_CHECKING:
    from collections.abc import Iterator

#: First seed of the films.
_FIRST = 300


def run() -> Iterator[Row]:
    many = int(os.environ.get("TEMPO_COACH_FILMS", "4"))
    with tempfile.TemporaryDirectory() as folder:
        for rate, floor in ((30.0, 10), (60.0, 6)):
            for ball in (False, True):
                what = f"{'a ball' if ball else 'claps'}, {rate:.0f} a second"
                errors, refused = [], 0
                for seed in range(_FIRST, _FIRST + many):
                    delay = float(np.random.default_rng([seed, 23]).uniform(-0.10, 0.12))
                    film = met.make(seed, ball=ball, delay=delay, rate_hz=rate)
                    try:
                        found = find_delay(look_at_film(met.write(film, Path(folder) / "met.mp4", preset="veryfast")))
                    except CoachError:
                        refused += 1
                        continue
                    errors.append(1000 * (found.delay - delay))
                yield Row(f"{what}: refused, of {many}", refused, "films")
                if errors:
                    off = np.array(errors)
                    yield Row(f"{what}: error of three, RMS", float(np.sqrt(np.mean(off**2))), "ms", floor)
                    yield Row(f"{what}: largest", float(np.abs(off).max()), "ms", 25)
