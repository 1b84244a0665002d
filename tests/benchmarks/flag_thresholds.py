"""Simulate good takes and write the table of thresholds: ``python -m tests.benchmarks.flag_thresholds``.

Good takes of several kinds of people: some correct everything at once, some little, some nothing (their asynchrony
wanders), with more scatter in the inner clock or more in the single movements. For each size the threshold is the
largest that any of them needs so that a good cycle, all hands together, is flagged as often as ``RATES`` says, which
is below 1 in 200.
"""

from __future__ import annotations

import numpy as np

from tempo_coach.score.displaced import find_displacements
from tempo_coach.score.flags import _TABLE
from tempo_coach.score.residual import studentise_periods
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
#: The most takes of a size and person.
MOST_TAKES = 2_000
#: How often a good cycle may be flagged for its period and for a moment. In longer takes faults are found at a lower
#: rate too, and a take has more good cycles; a rarer event is told from more of them.
RATES = {"short": (0.0018, 0.0028), "long": (0.0011, 0.0017)}
CYCLES_IN_ALL = {"short": 16_000, "long": 24_000}
#: Cycles up to which a take is short.
SHORT = 12
#: Correction from cycle to cycle, and the parts of the inner clock and of a movement in the SD of a period.
PEOPLE = ((1.0, 0.0, 1.0), (0.3, 1.0, 0.8), (0.5, 1.0, 0.3), (0.0, 1.0, 0.5))
#: SD of a period of a natural performer. Who is steadier is flagged less, since what is usual counts as well; the same
#: people at 4 % would need thresholds that are higher by a tenth in short takes and as high in long ones.
SCATTER = 0.03
SEED = 17


def statistics_of(inner: np.ndarray, motor: np.ndarray, hands: int) -> tuple[np.ndarray, np.ndarray]:
    """Return the furthest period and the furthest moment of every cycle, in SDs.

    ``inner`` is the inner clock's asynchrony at the begin of each cycle and of the one after the last; ``motor``, shape
    (cycles, moments), what each movement adds; both in cycles.
    """
    cycles, moments = motor.shape
    share = np.arange(moments) / moments
    series = inner[:-1, None] + np.diff(inner)[:, None] * share + motor
    asked = np.arange(cycles)[:, None] + share
    ((out, scatter),) = find_displacements([asked + series], [asked])
    # the first moments of the cycle are the hands' anchors
    anchors = series[:, :hands].T
    periods = studentise_periods(list(1 + np.diff(anchors)), list(anchors[:, :-1]))
    return np.abs(periods).max(axis=0), (np.abs(out) / scatter).max(axis=1)


def simulate(cycles: int, moments: int, hands: int) -> tuple[float, float]:
    """Return the two thresholds for one size."""
    generator = np.random.default_rng([SEED, cycles, moments, hands])
    length = "short" if cycles <= SHORT else "long"
    period_rate, moment_rate = RATES[length]
    found = []
    for gain, clock, motor in _scatter_people():
        periods, furthest = [], []
        takes = min(CYCLES_IN_ALL[length] // cycles, MOST_TAKES)
        inner = correct(generator, takes * (cycles + 1), gain=gain, clock=clock, motor=0.0)
        for mine in inner.reshape(takes, cycles + 1):
            one, other = statistics_of(mine, generator.normal(0, motor, (cycles, moments)), hands)
            periods.append(one)
            furthest.append(other)
        found.append(
            (
                np.quantile(np.concatenate(periods), 1 - period_rate),
                np.quantile(np.concatenate(furthest), 1 - moment_rate),
            )
        )
    period, moment = np.max(found, axis=0)
    return float(period), float(moment)


def _scatter_people() -> list[tuple[float, float, float]]:
    """Everybody at that scatter."""
    scaled = []
    for gain, clock, motor in PEOPLE:
        # an inner clock that corrects itself, and two movements
        size = SCATTER / (clock**2 * (2 / (2 - gain)) + 2 * motor**2) ** 0.5
        scaled.append((gain, clock * size, motor * size))
    return scaled


def main() -> None:
    """Write the table beside the module that reads it."""
    lines = ["# SDs beyond which a cycle or a moment stands out; written by tests/benchmarks/flag_thresholds.py"]
    lines.append("cycles,moments,hands,period,moment")
    for cycles in SIZES:
        for moments, hands in SHAPES:
            period, moment = simulate(cycles, moments, hands)
            lines.append(f"{cycles},{moments},{hands},{period:.2f},{moment:.2f}")
            print(lines[-1], flush=True)
    _TABLE.write_text("\n".join(lines) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
