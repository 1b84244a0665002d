"""Simulate good takes and write the table of thresholds: ``python -m tests.benchmarks.flag_thresholds``.

Good takes of several kinds of people: some correct everything at once, some little, some nothing (their asynchrony
wanders), with more scatter in the inner clock or more in the single movements. For each size the threshold is the
largest that any of them needs so that a good cycle, all hands together, is flagged with a probability of
``PERIOD_RATE + MOMENT_RATE``, which is below 1 in 200.
"""

from __future__ import annotations

import numpy as np

from tempo_coach.score.flags import _TABLE, share_scatter, standing_out
from tests.benchmarks.performer import correct

SIZES = (4, 6, 8, 12, 16, 24, 48, 96)
#: Moments of a cycle in all, and the hands that share them.
SHAPES = (
    (1, 1),
    (2, 1),
    (3, 1),
    (4, 1),
    (6, 1),
    (8, 1),
    (2, 2),
    (3, 2),
    (4, 2),
    (6, 2),
    (8, 2),
    (16, 2),
    (3, 3),
    (9, 3),
)
CYCLES_IN_ALL = 24_000
PERIOD_RATE, MOMENT_RATE = 0.0016, 0.0021
#: Correction from cycle to cycle, and SD of the inner clock and of a movement.
PEOPLE = ((1.0, 0.0, 1.0), (0.3, 1.0, 0.8), (0.5, 1.0, 0.3), (0.0, 1.0, 0.5))
SEED = 17


def statistics_of(inner: np.ndarray, motor: np.ndarray, hands: int) -> tuple[np.ndarray, np.ndarray]:
    """Return the furthest period and the furthest moment of every cycle, in robust SDs.

    ``inner`` is the inner clock's asynchrony at the begin of each cycle and of the one after the last; ``motor``, shape
    (cycles, moments), what each movement adds.
    """
    cycles, moments = motor.shape
    share = np.arange(moments) / moments
    series = inner[:-1, None] + np.diff(inner)[:, None] * share + motor
    out, rest = standing_out((series - np.median(series, axis=0)).ravel())
    furthest = np.abs(np.nan_to_num(out)).reshape(cycles, moments) / share_scatter(rest.reshape(cycles, moments).T)
    # the first moments of the cycle are the hands' anchors
    periods = np.diff(series[:, :hands], axis=0)
    off = periods - np.median(periods, axis=0)
    return (np.abs(off) / share_scatter(off.T)).max(axis=1), furthest.max(axis=1)


def simulate(cycles: int, moments: int, hands: int) -> tuple[float, float]:
    """Return the two thresholds for one size."""
    generator = np.random.default_rng([SEED, cycles, moments, hands])
    found = []
    for gain, clock, motor in PEOPLE:
        periods, furthest = [], []
        inner = correct(generator, CYCLES_IN_ALL + CYCLES_IN_ALL // cycles, gain=gain, clock=clock, motor=0.0)
        for begin in range(0, len(inner) - cycles - 1, cycles + 1):
            mine = inner[begin : begin + cycles + 1]
            one, other = statistics_of(mine, generator.normal(0, motor, (cycles, moments)), hands)
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
    lines.append("cycles,moments,hands,period,moment")
    for cycles in SIZES:
        for moments, hands in SHAPES:
            period, moment = simulate(cycles, moments, hands)
            lines.append(f"{cycles},{moments},{hands},{period:.2f},{moment:.2f}")
            print(lines[-1], flush=True)
    _TABLE.write_text("\n".join(lines) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
