"""Simulated seasons of practice: what is told of a change, looked at on every day from the fifth on, and on the last.

A day's spread scatters about her level on a logarithmic scale by 15 % (a median of a few takes). The number of days
that are looked at and the confidence were chosen on normal scatter; they are judged on heavy tails (Student's t with 3
degrees of freedom) and on days that are like their neighbours (autocorrelation .3). *Real* is a change by 30 %.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from tempo_coach.history.progress import LEAST_DAYS, change_of
from tests.benchmarks.table import Row

if TYPE_CHECKING:
    from collections.abc import Iterator

SEASONS = 300
SCATTER = 0.15
REAL = math.log(0.7)
LAWS = ("normal", "heavy", "alike")
KINDS = {
    "nothing changes": np.zeros,
    "one bad day, the last": lambda n: np.where(np.arange(n) == n - 1, math.log(2), 0.0),
    "slow learning": lambda n: np.linspace(0, REAL, n),
    "learnt half way": lambda n: np.where(np.arange(n) < n // 2, 0.0, REAL),
    "plateau since a month": lambda n: np.maximum(1 - np.arange(n) / 8, 0) * -REAL,
    "forgotten in the last quarter": lambda n: np.where(np.arange(n) < 3 * n // 4, REAL, 0.0),
}


def run() -> Iterator[Row]:
    """Yield the rows of the table."""
    for law in LAWS:
        for kind, level in KINDS.items():
            for days in (20, 32):
                generator = np.random.default_rng(days)
                season = [np.exp(level(days) + _scatter(law, days, generator)) for _ in range(SEASONS)]
                last = np.array([_told(values) for values in season])
                what = f"{law}, {days} days, {kind}"
                if kind == "nothing changes":
                    looks = [_told(values[:k]) != 0 for values in season[:100] for k in range(LEAST_DAYS, days + 1)]
                    yield Row(
                        f"{what}: told, any day", float(np.mean(looks)), "", floor=None if law == "alike" else 0.05
                    )
                if kind == "nothing changes" or "bad" in kind or ("plateau" in kind and days > 30):
                    floor = None if law == "alike" else 0.05
                    yield Row(f"{what}: told, last day", float(np.mean(last != 0)), "", floor=floor)
                elif "plateau" not in kind:
                    way = 1 if "forgotten" in kind else -1
                    yield Row(f"{what}: found", float(np.mean(last == way)), "", better="high")
                    yield Row(f"{what}: told the wrong way", float(np.mean(last == -way)), "", floor=0.01)


def _scatter(law: str, days: int, generator: np.random.Generator) -> np.ndarray:
    if law == "heavy":
        return SCATTER / math.sqrt(3) * generator.standard_t(3, days)
    noise = generator.normal(0, SCATTER, days)
    if law == "alike":
        for k in range(1, days):
            noise[k] = 0.3 * noise[k - 1] + math.sqrt(1 - 0.3**2) * noise[k]
    return noise


def _told(values: np.ndarray) -> int:
    ratio, _, _, beyond = change_of(values)
    return int(np.sign(ratio - 1)) if beyond else 0
