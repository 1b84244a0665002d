"""Tosses: how long the table of a routine's tempo takes, with and without air."""

from __future__ import annotations

import time
from typing import TYPE_CHECKING

from tempo_coach.pattern.toss.bodies import find_body
from tempo_coach.pattern.toss.drag import add_drag
from tempo_coach.pattern.toss.solver import tabulate_tosses
from tests.benchmarks.table import Row

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator


def run() -> Iterator[Row]:
    """Measure everything."""
    counts = [2 + k / 2 for k in range(13)]
    yield Row(
        "table of 2 to 8 counts by halves",
        1000 * _fastest(lambda: tabulate_tosses(tempo_bpm=126, counts=counts)),
        "ms",
        100,
    )

    def with_air() -> None:
        tosses, _ = tabulate_tosses(tempo_bpm=126)
        add_drag(tosses, find_body("ball"))

    yield Row("table of 2 to 8 counts of a ball in air", 1000 * _fastest(with_air), "ms", 100)


def _fastest(what: Callable[[], object]) -> float:
    what()
    seconds = []
    for _ in range(5):
        begin = time.perf_counter()
        what()
        seconds.append(time.perf_counter() - begin)
    return min(seconds)
