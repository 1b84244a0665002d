"""Traces: limits of noise, circles found and how late, lags, faults told, flights, and time taken.

Everything is generated from fixed seeds with exact truth (tests/generators/movement.py): positions at 100 Hz, 2 %
jitter of the period and 2 % noise unless said otherwise.
"""

from __future__ import annotations

import tempfile
import time
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from tempo_coach.observe.trace.circles import find_circles
from tempo_coach.observe.trace.cycles import find_cycles
from tempo_coach.observe.trace.flights import GRAVITY, find_flights
from tempo_coach.observe.trace.selection import pick
from tempo_coach.observe.trace.sizes import find_odd_sizes
from tempo_coach.observe.trace.tables import read_trace
from tempo_coach.observe.trace.tracked_body import observe
from tempo_coach.observe.trace.uneven import find_uneven
from tempo_coach.score.measures.phase import summarise_lag
from tempo_coach.score.trace.body_lag import event_lags, measure_lag
from tempo_coach.score.trace.study import study
from tests.benchmarks.table import Row
from tests.generators import movement
from tests.generators.rotation_fit import bound_frequency, bound_phase, fit_rotations

if TYPE_CHECKING:
    from collections.abc import Iterator

#: A low point this near the record's ends (in seconds) may be cut off: neither asked for nor counted as false.
_EDGE = 0.08


def run() -> Iterator[Row]:
    """Measure everything."""
    yield from _limits()
    yield from _circles()
    yield from _lags()
    yield from _faults()
    yield from _sizes()
    yield from _flights()
    yield from _speed()


def _limits() -> Iterator[Row]:
    for n, frequency in ((1000, 2.0), (500, 1.5)):
        errors = []
        for seed in range(300):
            trace, phase = movement.circle(seed, n=n, frequency=frequency)
            (found,) = fit_rotations(trace.time, trace.values[:, 0])
            errors.append((found.frequency_hz - frequency, _wrap(found.phase - phase)))
        spread = np.sqrt(np.mean(np.square(errors), axis=0))
        what = f"one axis, {n} readings, {frequency} Hz, 10 % noise"
        yield Row(f"frequency, {what}", spread[0] / bound_frequency(1, 0.1, n, 100), "bounds", 1.2, 1.1)
        yield Row(f"phase, {what}", spread[1] / bound_phase(1, 0.1, n), "bounds", 1.2, 1.1)
    errors = []
    for seed in range(300):
        rng = np.random.default_rng(seed)
        at = np.arange(1000) / 100
        path = np.exp(2j * np.pi * (0.5 * at + rng.uniform())) + 0.25 * np.exp(2j * np.pi * (2.5 * at + rng.uniform()))
        path = path + 0.1 * (rng.standard_normal(1000) + 1j * rng.standard_normal(1000))
        big, small = fit_rotations(at, path, count=2)
        errors.append((big.frequency_hz - 0.5, small.frequency_hz - 2.5))
    # A point in its plane gives two readings: its bound is smaller by √2 than that of one axis.
    bounds = np.array([bound_frequency(r, 0.1, 1000, 100) for r in (1.0, 0.25)]) / np.sqrt(2)
    ratios = np.sqrt(np.mean(np.square(errors), axis=0)) / bounds
    yield Row("two circles, frequency of the big one", ratios[0], "bounds", 1.3)
    yield Row("two circles, frequency of the small one", ratios[1], "bounds", 1.3)
    for noise, bound in ((0.02, 0.001732660), (0.05, 0.004331649)):
        errors = []
        for seed in range(40):
            trace, phase = movement.circle(seed, n=2000, frequency=1.5, noise=noise)
            angle = phase + 2 * np.pi * 1.5 * (find_cycles(trace).time - trace.time.mean())
            errors.append(_wrap(angle) / (2 * np.pi * 1.5))
        yield Row(f"crossing, {100 * noise:.0f} % noise", np.concatenate(errors).std() / bound, "of s/(Aω)·√(2/3)", 1.2)


def _circles() -> Iterator[Row]:
    for name, make in (
        ("mills", movement.mills),
        ("rope", movement.rope),
        ("carried mills", movement.carried),
        ("carried mills, opposite", lambda seed: movement.carried(seed, opposite=True)),
    ):
        errors, missing, false, true = [], 0, 0, 0
        for seed in range(100):
            made = make(seed)
            found = find_circles(pick(made.trace)).time
            asked = next(iter(made.circles.values()))
            start, end = made.trace.time[0] + _EDGE, made.trace.time[-1] - _EDGE
            near = np.abs(found[:, None] - asked)
            inner = (asked > start) & (asked < end)
            missing += int((near.min(axis=0)[inner] > 0.1).sum())
            false += int((near.min(axis=1)[(found > start) & (found < end)] > 0.1).sum())
            true += int(inner.sum())
            errors.append(near.min(axis=1)[near.min(axis=1) < 0.1])
        yield Row(f"{name}: circles found", 100 * (1 - missing / true), "%", 99.9, 100, "high")
        yield Row(f"{name}: circles that were none", 1000 * false / true, "per 1000", 1, 0)
        yield Row(f"{name}: median error", 1000 * float(np.median(np.concatenate(errors))), "ms", 3, 2)


def _lags() -> Iterator[Row]:
    errors = []
    for seed in range(60):
        made = movement.mills(seed, lag=0.25 + 0.25 * (seed % 3), n=30)
        second, first = (observe(pick(made.trace, point=name)) for name in ("second", "first"))
        true = summarise_lag(event_lags(made.circles["first"], made.circles["second"])[0], period=0.6).degrees
        errors.append((measure_lag(second, first).lag.degrees - true + 180) % 360 - 180)
    yield Row("lag of the second club, median error", float(np.median(np.abs(errors))), "°", 1)
    yield Row("lag of the second club, largest error", float(np.max(np.abs(errors))), "°", 1)


def _faults() -> Iterator[Row]:
    for name, make, at, period in (("mills", movement.mills, 10, 0.6), ("rope", movement.rope, 8, 2.0)):
        flags, cycles = 0, 0
        for seed in range(400):
            found = find_circles(pick(make(seed, n=16 if name == "rope" else 20).trace))
            flags += sum(flag.last - flag.first + 1 for flag in find_uneven(found))
            cycles += found.cycles.periods.size
        yield Row(f"{name}: good cycles flagged", 200 * flags / cycles, "per 200", 1)
        for fault in ("missed", "extra", "long"):
            hits = 0
            for seed in range(400):
                start = movement.ticks(np.random.default_rng(seed), 2 * at, period)[at]
                found = find_uneven(find_circles(pick(make(seed, fault=fault).trace)))
                hits += any(
                    flag.kind == fault and flag.start < start + 1.2 * period and flag.end > start for flag in found
                )
            yield Row(f"{name}: one {fault} found, of 400", hits, "takes", 380, 400, "high")


def _sizes() -> Iterator[Row]:
    """Power of one circle of another size among twenty against false flags; sizes scatter by 2 %, noise is 2 %."""
    flagged = 0
    for seed in range(300):
        body = observe(movement.circling(np.full(20, 0.5), seed=5000 + seed, noise=0.01))
        flagged += bool(find_odd_sizes(body))
    yield Row("takes of one size in which a size is flagged, of 300", flagged, "takes", 3, 0)
    for factor, floor in ((1.15, None), (1.25, 80), (1.4, 98), (0.8, None), (0.65, 98)):
        hits = 0
        for seed in range(100):
            radii, at = np.full(20, 0.5), 3 + seed % 14
            radii[at] *= factor
            flags = find_odd_sizes(observe(movement.circling(radii, seed=6000 + seed, noise=0.01)))
            hits += any(flag.start < 0.8 * (at + 1.6) and flag.end > 0.8 * (at - 0.6) for flag in flags)
        name = f"one circle {100 * abs(factor - 1):.0f} % {'bigger' if factor > 1 else 'smaller'} told"
        yield Row(name, hits, "%", floor, None if floor is None else 100, "high")


def _flights() -> Iterator[Row]:
    errors, lost = [], 0
    for seed in range(400):
        made = movement.toss(seed)
        flights = find_flights(made.trace)
        if len(flights) != 1:
            lost += 1
            continue
        (flight,) = flights
        errors.append((flight.release - made.release, flight.angle_deg - made.angle_deg, flight.gravity / GRAVITY - 1))
    off = np.abs(errors)
    release, angle, gravity = np.quantile(off, 0.95, axis=0)
    yield Row("tosses not found as one flight, of 400", lost, "tosses", 4, 0)
    yield Row("release, error of 95 in 100 (5 mm noise)", 1000 * release, "ms", 5)
    yield Row("release within 5 ms", 100 * float((off[:, 0] < 0.005).mean()), "%", 95, 100, "high")
    yield Row("angle at release, error of 95 in 100", angle, "°", 1)
    yield Row("gravity, error of 95 in 100", 100 * gravity, "%", 1)
    bounced = [find_flights(movement.dropped(seed).trace) for seed in range(200)]
    wrong = sum([flight.ends for flight in flights] != ["bounce"] for flights in bounced)
    yield Row("bounces taken for flights, of 200 tosses", wrong, "tosses", 2, 0)
    lost = 0
    for seed in range(200):
        made = movement.toss(seed)
        top = float(made.trace.values[:, 1].max())
        flights = find_flights(movement.leave_picture(made, 1.5 + 0.6 * (top - 1.5)).trace)
        lost += [(flight.begins, flight.ends) for flight in flights] != [("release", "catch")]
    yield Row("flights lost at the top of the picture, of 200", lost, "tosses", 4, 0)


def _speed() -> Iterator[Row]:
    seconds = {}
    for minutes in (5, 10):
        n = minutes * 60 * 200
        at = np.arange(n) / 200
        rng = np.random.default_rng(0)
        phase = np.cumsum(1 + 0.02 * np.sin(at / 7)) / 200 / 0.6
        points = [movement.turning(phase - lag, 0.5, 1) for lag in np.linspace(0, 0.9, 6)]
        table = np.column_stack([at, *points]) + 0.0
        table[:, 1:] += 0.01 * rng.standard_normal((n, 12))
        with tempfile.TemporaryDirectory() as folder:
            path = Path(folder) / "long.csv"
            names = ",".join(["time", *(f"p{k}_{axis}" for k in range(6) for axis in "xy")])
            np.savetxt(path, table, delimiter=",", header=names, comments="", fmt="%.5f")
            takes = []
            for _ in range(4):
                begin = time.perf_counter()
                study(read_trace(path))
                takes.append(time.perf_counter() - begin)
            seconds[minutes] = min(takes)
    yield Row("10 minutes, 200 Hz, 12 columns: read and studied", seconds[10], "s", 2)
    yield Row("the same against 5 minutes", seconds[10] / seconds[5], "times", 2.4, 2)


def _wrap(angle: np.ndarray | float) -> np.ndarray:
    return np.asarray((np.asarray(angle) + np.pi) % (2 * np.pi) - np.pi)
