"""Real people who tapped to a metronome: every trial's figures, and what is told of single taps.

The table is published data and lies in nobody's package: ``TEMPO_COACH_TAPPING`` names a CSV file with the columns
subject, trial, isi_ms, k (number of the tone) and asynch_ms (tap minus tone), as can be made from the data of Bååth &
Madison 2012 (MIT licence). Without it the benchmark has no rows but the reason.

What is told of a single tap is called wrong where a plain look at the trial does not bear it out: these people missed
and added nothing, and a tap or an interval that is told stands out by at least two of the trial's own SDs (robust, from
the median absolute deviation), the way it is told.
"""

from __future__ import annotations

import csv
import os
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from tempo_coach.music.counts.count_map import CountMap
from tempo_coach.observe.take.onsets import Onsets, Take
from tempo_coach.pattern.drill.drill import Drill
from tempo_coach.pattern.drill.pattern import Hand, Moment, Pattern
from tempo_coach.pattern.plan.layout import lay_out
from tempo_coach.score.card import judge
from tests.benchmarks.table import Row
from tests.benchmarks.told import Told, tellings

if TYPE_CHECKING:
    from collections.abc import Iterator

FILE = "TEMPO_COACH_TAPPING"
TAP = Drill(
    name="tap",
    title="A tap on every tone",
    apparatus="none",
    pattern=Pattern(1.0, (), (Hand("right", (Moment(0.0, "tap", "contact"),)),)),
)
STANDS_OUT = 2.0


def run() -> Iterator[Row]:
    """Yield the rows of the table."""
    path = os.environ.get(FILE)
    if not path:
        yield Row(f"skipped: {FILE} names no table of taps", np.nan)
        return
    off = {"bias_ms": 0.0, "spread_ms": 0.0}
    miscounted = told = wrong = taps = trials = 0
    for interval, number, late in read_trials(Path(path)):
        card = judge(take_of(interval, number, late))
        for name, plain in (("bias_ms", late.mean()), ("spread_ms", late.std(ddof=1))):
            off[name] = max(off[name], abs(card.value(name) - 1000 * plain))
        miscounted += card.measures["bias_ms"].n != len(late) or len(card.missed) or len(card.extra_time)
        said = tellings(card)
        told, wrong = told + len(said), wrong + sum(not bears_out(each, interval, number, late) for each in said)
        trials, taps = trials + 1, taps + len(late)
    for name, most in off.items():
        yield Row(f"{trials} trials: {name} off plain recomputation by at most", most, "ms", floor=0.001)
    yield Row("trials with a tap too many, or missed, or left out", miscounted, "", floor=0)
    yield Row(f"told of {taps} taps", told)
    yield Row("told wrongly", wrong, "", floor=0)


def read_trials(path: Path) -> Iterator[tuple[float, np.ndarray, np.ndarray]]:
    """Yield each trial's interval, numbers of the tones and lateness of the taps, in seconds."""
    trials: dict[tuple[str, str, str], list[tuple[int, float]]] = {}
    with path.open(newline="", encoding="utf-8") as file:
        for row in csv.DictReader(file):
            trial = row["subject"], row["isi_ms"], row["trial"]
            trials.setdefault(trial, []).append((int(row["k"]), float(row["asynch_ms"]) / 1000))
    for (_, interval, _), taps in trials.items():
        number, late = zip(*sorted(taps), strict=True)
        yield float(interval) / 1000, np.array(number), np.array(late)


def take_of(interval: float, number: np.ndarray, late: np.ndarray) -> Take:
    """Return the take of a trial."""
    plan = lay_out(TAP, CountMap.steady(60 / interval), tempo_bpm=60 / interval, cycles=int(number[-1]) + 1)
    times = plan.moments.time[number] + late
    return Take(plan, Onsets.unsorted(times.tolist(), ["right"] * len(times)), observed_by="tap")


def bears_out(told: Told, interval: float, number: np.ndarray, late: np.ndarray) -> bool:
    """Return whether a plain look at a trial bears out what is told of a tap."""
    at = int(np.searchsorted(number, told.cycle))
    sign = 1 if told.kind in ("long", "late", "hesitated") else -1
    if told.kind in ("late", "early"):
        # the first and the last tap have one neighbour
        beside = np.pad(late, 1, constant_values=np.nan)
        around = np.nanmean([beside[:-2], beside[2:]], axis=0)
        return bool(sign * in_sds(late - around)[at] > STANDS_OUT)
    if told.kind in ("long", "short", "hesitated"):
        return bool(at < len(late) - 1 and sign * in_sds(np.diff(late))[at] > STANDS_OUT)
    return False


def in_sds(values: np.ndarray) -> np.ndarray:
    """Return how far values stand out of the middle of them, in robust SDs."""
    apart = values - np.median(values)
    return apart / (1.4826 * np.median(abs(apart)))
