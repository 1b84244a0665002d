"""Simulate good takes and write the table of thresholds: ``python -m tests.benchmarks.flag_thresholds``.

A good take is a mixture of what people do: moments that scatter independently about the music, periods that scatter
independently (so that the asynchrony wanders), and both. For each size the threshold is the largest of the three, set
so that a good cycle is flagged with a probability of ``PERIOD_RATE + MOMENT_RATE``, which is below 1 in 200.
"""

from __future__ import annotations

import numpy as np

from tempo_coach.score.flags import _TABLE, robust_sd, standing_out

SIZES = (4, 6, 8, 12, 16, 24, 48, 96, 200)
MOMENTS = (1, 2, 3, 4, 6, 8)
CYCLES_IN_ALL = 60_000
PERIOD_RATE, MOMENT_RATE = 0.0018, 0.0022
MIXTURES = ((1.0, 0.0), (0.0, 1.0), (0.7, 0.5))  # SD of moments, SD of a cycle's period
SEED = 17


def statistics_of(series: np.ndarray, moments: int) -> tuple[np.ndarray, np.ndarray]:
    """Return how far out every period is, and the furthest moment of every cycle, in robust SDs."""
    labels = np.arange(series.size) % moments
    usual = np.array([np.median(series[labels == k]) for k in range(moments)])
    out, scatter = standing_out(series - usual[labels])
    furthest = np.nan_to_num(np.abs(out) / scatter).reshape(-1, moments).max(axis=1)
    periods = np.diff(series[::moments])
    return np.abs(periods - np.median(periods)) / robust_sd(periods), furthest


def simulate(cycles: int, moments: int) -> tuple[float, float]:
    """Return the two thresholds for one size."""
    generator = np.random.default_rng([SEED, cycles, moments])
    found = []
    for still, wandering in MIXTURES:
        periods, furthest = [], []
        for _ in range(CYCLES_IN_ALL // cycles):
            steps = generator.normal(0, wandering / np.sqrt(moments), cycles * moments)
            series = generator.normal(0, still, cycles * moments) + np.cumsum(steps)
            one, other = statistics_of(series, moments)
            periods.append(one)
            furthest.append(other)
        found.append(
            (
                np.quantile(np.concatenate(periods), 1 - PERIOD_RATE),
                np.quantile(np.concatenate(furthest), 1 - MOMENT_RATE),
            )
        )
    period, moment = np.max(found, axis=0)
    return float(period), float(moment)


def main() -> None:
    """Write the table beside the module that reads it."""
    lines = ["# robust SDs beyond which a cycle or a moment stands out; written by tests/benchmarks/flag_thresholds.py"]
    lines.append("cycles,moments,period,moment")
    for cycles in SIZES:
        for moments in MOMENTS:
            period, moment = simulate(cycles, moments)
            lines.append(f"{cycles},{moments},{period:.2f},{moment:.2f}")
            print(lines[-1], flush=True)
    _TABLE.write_text("\n".join(lines) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
