"""Who is early or late now: told where it is beyond chance, and of nobody where it is not."""

from __future__ import annotations

import math

import numpy as np
import pytest

from tempo_coach.music.counts.count_map import CountMap
from tempo_coach.pattern.plan.every_count import lay_every_count
from tempo_coach.score.group.now import measure_now

PLAN = lay_every_count(CountMap.steady(120), end=64, tempo_bpm=120)
HAND = PLAN.hands[0]
NAMES = ("Ada", "Bea", "Cyl", "Dora", "Eve")  # invented


def told(seed: int, late: float, *, sd: float = 0.025, bound: float = 0.0) -> list[int]:
    """What is told of Cyl, who is late from the middle on, and of the others, at every second count."""
    rng = np.random.default_rng(seed)
    times = {name: PLAN.moments.time + sd * rng.standard_normal(len(PLAN.moments)) for name in NAMES}
    times["Cyl"][32:] += late
    cyl, others = [], []
    for now in PLAN.moments.time[8::2] + 0.25:
        onsets = {name: [(t, HAND) for t in sorted(mine.tolist()) if t <= now] for name, mine in times.items()}
        standings = {one.member: one.told for one in measure_now(PLAN, onsets, float(now), bound=bound)}
        cyl.append(standings.pop("Cyl"))
        others += standings.values()
    return [sum(map(abs, others)), sum(map(abs, cyl[:12])), sum(each > 0 for each in cyl[-12:])]


def test_one_who_is_late_is_told_and_of_the_others_hardly_anything():
    """SD 25 ms, as of a good tapper (Repp 2005, from memory): 80 ms late is told, chance hardly ever."""
    found = np.array([told(seed, 0.08) for seed in range(4)])
    assert found[:, 0].sum() <= 0.01 * 4 * 28 * 4 and found[:, 1].sum() <= 1
    assert found[:, 2].sum() >= 0.9 * 4 * 12


def test_nothing_is_told_within_what_the_clocks_leave_open():
    assert told(1, 0.06, sd=0.004) == [0, 0, 12]
    assert told(1, 0.06, sd=0.004, bound=0.03) == [0, 0, 0]


@pytest.mark.parametrize(
    "mine", [[], [(3.0, HAND)] * 3, [(math.nan, HAND)] * 9, [(float(t), "foot") for t in range(9)]]
)
def test_of_one_who_did_too_little_or_something_else_nothing_is_known(mine):
    both = [(float(t), HAND) for t in PLAN.moments.time[:9]]
    ada, bea, _ = measure_now(PLAN, {"Ada": mine, "Bea": both, "Cyl": both}, 4.2)
    assert math.isnan(ada.offset) and ada.told == 0 and bea.offset == 0
    assert math.isnan(measure_now(PLAN, {"Ada": both}, 4.2)[0].offset)
    assert all(math.isnan(one.offset) for one in measure_now(PLAN, {"Ada": both, "Bea": both}, 30.0))
