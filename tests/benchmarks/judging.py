"""The judging takes of the verdict, drawn by fixed seeds, and a quick table: ``python -m tests.benchmarks.judging``.

Three streams of takes, which share nothing:

* ``TUNING``: whoever tunes draws from it, with the performers here or that of :mod:`tests.benchmarks.performer`.
* ``QUICK``: for the quick table here: to look at while working.
* ``JUDGING``: for the benchmarks ``verdict`` and ``going_wrong``. Nothing may be tuned on these, and no constant
  changed because of a figure that they gave: whoever does so has to draw anew. Those of 30 to 100 million were
  read before slips that explain their surroundings nearly as well were all tried in full.

A case depends on its stream, drill, kind and number alone, so that more takes begin with the same ones.
"""

from __future__ import annotations

import argparse
import zlib
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from tempo_coach.pattern.drill.drill_file import list_drills
from tempo_coach.score.card import judge
from tests.benchmarks.alike import right_kinds
from tests.benchmarks.astray import WAYS, draw_way
from tests.benchmarks.drawn import draw_single, draw_who
from tests.benchmarks.faults import lay
from tests.benchmarks.oracle import power
from tests.benchmarks.performers import FAMILIES, perform
from tests.benchmarks.told import beside, broken_cycles, is_right, is_told, tellings

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence

    from tests.benchmarks.performers import Performance

TUNING, QUICK, JUDGING = 10_000_000, 20_000_000, 110_000_000
LENGTHS = (8, 12, 16, 24, 32)
#: Half of the takes are steady, half are not.
SPREADS = ((0.02, 0.03), (0.03, 0.05))
#: Seconds off the music of those who go wrong in some other way.
SMALL_BIASES = (-0.02, 0.02)


def drills() -> list[str]:
    """Return the names of all drills of the library."""
    return [path.stem for path in list_drills()]


def tuning_generator(number: int) -> np.random.Generator:
    """Return the source of chance of a take on which things may be tuned."""
    return np.random.default_rng(TUNING + number)


@dataclass(frozen=True)
class Draw:
    """What cases are drawn from.

    Parameters
    ----------
    stream : int
        ``QUICK`` or ``JUDGING``.
    lengths : tuple of int
        Cycles.
    spreads : tuple of (low, high)
        One of them by turns, and anything in it.
    families : tuple of str
    sizes : tuple of float
        Of faults, as shares of the usual size; by turns.
    """

    stream: int
    lengths: tuple[int, ...] = LENGTHS
    spreads: tuple[tuple[float, float], ...] = SPREADS
    families: tuple[str, ...] = FAMILIES
    sizes: tuple[float, ...] = (1.0,)


def cases(drill: str, kind: str, takes: int, draw: Draw, *, first: int = 0) -> Iterator[Performance]:
    """Yield takes of a drill with a fault of one cycle or moment, or none (``even``)."""
    for number in range(first, first + takes):
        chance = np.random.default_rng([draw.stream, zlib.crc32(drill.encode()), zlib.crc32(kind.encode()), number])
        plan = lay(drill, int(chance.choice(draw.lengths)))
        who = draw_who(chance, spread=chance.uniform(*draw.spreads[number % len(draw.spreads)]), families=draw.families)
        size = draw.sizes[number % len(draw.sizes)]
        yield perform(plan, who, chance, draw_single(plan, kind, chance, size=size))


def ways(
    drill: str, way: str, takes: int, draw: Draw, *, first: int = 0
) -> Iterator[tuple[Performance, frozenset[str]]]:
    """Yield takes of a way of going wrong with the kinds that are right; fewer where it makes no sense in the drill."""
    for number in range(first, first + takes):
        chance = np.random.default_rng([draw.stream, zlib.crc32(drill.encode()), zlib.crc32(way.encode()), number])
        plan = lay(drill, int(chance.choice(draw.lengths)))
        spread = chance.uniform(*draw.spreads[number % len(draw.spreads)])
        who = draw_who(chance, spread=spread, families=draw.families, biases=SMALL_BIASES)
        fault = draw_way(plan, who, way, chance)
        if fault is None:
            continue
        performed = perform(plan, who, chance, fault)
        right = right_kinds(performed)
        if way == "even" or "even" not in right:
            yield performed, right


#: The quick table's columns: heading, kind, what is drawn.
STEADY = Draw(QUICK, lengths=(8, 16, 32), spreads=((0.02, 0.03),))
COLUMNS = {
    "long8": ("long", Draw(QUICK, lengths=(8,), spreads=((0.02, 0.03),))),
    "long": ("long", Draw(QUICK, lengths=(16, 32), spreads=((0.02, 0.03),))),
    "short": ("short", STEADY),
    "late": ("late", STEADY),
    "missed": ("missed", STEADY),
    "extra": ("extra", STEADY),
    "both": ("both", STEADY),
    "false3": (
        "even",
        Draw(QUICK, lengths=(8, 16, 32), spreads=((0.03, 0.03),), families=("cycle", "step", "wandering")),
    ),
    "heavy3": ("even", Draw(QUICK, lengths=(8, 16, 32), spreads=((0.03, 0.03),), families=("heavy",))),
    "false6": (
        "even",
        Draw(QUICK, lengths=(8, 16, 32), spreads=((0.06, 0.06),), families=("cycle", "step", "wandering")),
    ),
}
FALSE = ("false3", "heavy3", "false6")


@dataclass(frozen=True)
class Cell:
    """One cell: per cent of the faults that are told, or false flags in 1,000 good cycles."""

    value: float
    #: Per cent that who is told everything finds at 5 false flags in 1,000 cycles; NaN where that was not asked.
    best: float = np.nan
    #: Cycles told wrongly elsewhere, in 1,000 cycles.
    beside: float = np.nan

    def __str__(self) -> str:
        if np.isnan(self.value):
            return "-"
        best = "" if np.isnan(self.best) else f"/{self.best:.0f}"
        return f"{self.value:.0f}{best} ({self.beside:.0f})" if not np.isnan(self.beside) else f"{self.value:.1f}"


def measure(drill: str, kind: str, takes: int, draw: Draw, *, best: bool = False) -> Cell:
    """Return one cell of the table of single cycles and moments."""
    right = wrong = cycles = 0
    powers = []
    for performed in cases(drill, kind, takes, draw):
        cycles += performed.take.plan.cycles
        told = tellings(judge(performed.take))
        if kind == "even":
            wrong += len(broken_cycles(told))
            continue
        right += is_told(told, performed)
        wrong += beside(broken_cycles(told), performed)
        if best:
            powers.append(power(performed.take.plan, performed.who, performed.fault, rate=0.005))
    if kind == "even":
        return Cell(1000 * wrong / cycles)
    return Cell(100 * right / takes, 100 * float(np.mean(powers)) if powers else np.nan, 1000 * wrong / cycles)


def measure_way(drill: str, way: str, takes: int, *, lengths: tuple[int, ...] = (8, 16, 32)) -> Cell:
    """Return one cell of the table of ways of going wrong; NaN where one makes no sense in the drill."""
    draw = Draw(QUICK, lengths=lengths, spreads=((0.02, 0.03),))
    found = [is_right(judge(performed.take), performed, right) for performed, right in ways(drill, way, takes, draw)]
    return Cell(100 * float(np.mean(found)) if found else np.nan)


def print_table(names: Sequence[str], columns: Sequence[str], cell: Callable[[str, str], Cell]) -> None:
    """Print a line for each drill, and one of the worst."""
    print(f"{'':27}" + "".join(f"{heading:>15}" for heading in columns), flush=True)
    rows = []
    for drill in names:
        print(f"{drill:27}", end="", flush=True)
        cells = []
        for heading in columns:
            cells.append(cell(drill, heading))
            print(f"{cells[-1]!s:>15}", end="", flush=True)
        rows.append([each.value for each in cells])
        print(flush=True)
    table = np.ma.masked_invalid(rows)
    worst = [table[:, k].max() if each in FALSE else table[:, k].min() for k, each in enumerate(columns)]
    for what, values in (("worst", worst), ("mean", table.mean(axis=0))):
        print(f"{what:27}" + "".join(f"{value:>15.1f}" for value in np.ma.filled(values, np.nan)), flush=True)


def main(words: Sequence[str] | None = None) -> None:
    """Print the quick tables for what is asked."""
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks.judging", description=__doc__.splitlines()[0])
    parser.add_argument("names", nargs="*", help="drills, columns and ways of going wrong; by default all")
    parser.add_argument("--quick", action="store_true", help="20 takes a cell instead of 60")
    parser.add_argument("--takes", type=int, help="takes a cell")
    parser.add_argument("--ways", action="store_true", help="ways of going wrong, not single cycles and moments")
    asked = parser.parse_args(words)
    columns = WAYS if asked.ways else tuple(COLUMNS)
    unknown = [name for name in asked.names if name not in {*drills(), *columns}]
    if unknown:
        parser.error(f"neither a drill nor a column: {', '.join(unknown)}; columns are {', '.join(columns)}")
    names = [name for name in drills() if name in asked.names] or drills()
    columns = tuple(name for name in columns if name in asked.names) or columns
    takes = asked.takes or (20 if asked.quick else 60)
    if asked.ways:
        print(f"{takes} takes a cell of 8, 16 and 32 cycles at 2 to 3 %; the first finding is right, in %")
        print_table(names, columns, lambda drill, way: measure_way(drill, way, takes))
        return
    print(
        f"{takes} takes a cell, faults at 2 to 3 %; told at its place in %, in brackets cycles told elsewhere in 1,000;"
    )
    print(
        "late: behind the stroke what a test that is told everything finds at 5 false in 1,000; false: in 1,000 cycles"
    )
    print_table(names, columns, lambda drill, heading: measure(drill, *_of(heading, takes), best=heading == "late"))


def _of(heading: str, takes: int) -> tuple[str, int, Draw]:
    kind, draw = COLUMNS[heading]
    return kind, takes, draw


if __name__ == "__main__":
    main()
