"""Cycles of a worn sensor as they end: how much later each came, told within the next one."""

from __future__ import annotations

import math

import numpy as np
import pytest

from tempo_coach import coach
from tempo_coach.live.practice.last_word import find_last_word
from tempo_coach.live.practice.session import Onset
from tempo_coach.live.practice.worn_cycles import WAIT, WornCycles
from tests.generators.movement import Phase, sensor

PLAN = coach.lay(coach.Request("clubs_mills", tempo_bpm=100, cycles=24, hand="right"))
ANCHORS = PLAN.moments.time


def worn(seed: int, moved: np.ndarray, *, hz: float = 60.0) -> np.ndarray:
    """A phone at the forearm whose circles come at moved anchors: readings are up to a step old, as a browser's are."""
    rng = np.random.default_rng(seed)
    at = np.arange(0, ANCHORS[-1] + 2.0, 1 / hz)
    trace = sensor(seed, Phase(ANCHORS + moved), at - rng.uniform(0, 0.99 / hz, at.size))
    values = np.asarray(trace.values)
    return np.column_stack([at, values[:, :6]])


def follow(rows: np.ndarray, *, every: float = 0.2) -> tuple[list, list]:
    """Hand the readings over as a phone does; what was told when, and the words."""
    cycles, told, onsets, words = WornCycles(PLAN), [], [], []
    for now in np.arange(every, rows[-1, 0], every):
        cycles.add("right", rows[(rows[:, 0] > now - every) & (rows[:, 0] <= now)])
        for one in cycles.finished(now):
            told.append((now, one))
            onsets.append(Onset(one.hand, one.time, one.time))
            words.append((one.time, find_last_word(PLAN, onsets)))
    return told, words


def test_each_cycle_is_told_within_the_next_one_and_near_the_truth():
    rng = np.random.default_rng(0)
    errors = []
    for seed in range(4):
        moved = 0.012 * rng.standard_normal(ANCHORS.size)
        told, _ = follow(worn(seed, moved))
        period = float(np.diff(ANCHORS).mean())
        assert len(told) == ANCHORS.size - 1
        for k, (now, _) in enumerate(told):
            assert now - ANCHORS[k + 1] <= WAIT + 0.21 < period
        late = np.array([one.time for _, one in told]) - ANCHORS[:-1]
        true = moved[:-1] + np.diff(moved) / 2  # a cycle's middle
        errors.append((late - late.mean()) - (true - true.mean()))
    assert np.std(np.concatenate(errors)) < 0.008


def test_one_late_cycle_is_called_late_and_the_others_are_not():
    named = others = 0
    for seed in range(4):
        moved = 0.01 * np.random.default_rng(seed).standard_normal(ANCHORS.size)
        moved[12:14] += 0.18
        _, words = follow(worn(seed + 10, moved))
        told = {round(float(np.argmin(np.abs(ANCHORS - at)))): word.word for at, word in words if word is not None}
        named += told.get(12) == "late"
        others += sum(word != "steady" for k, word in told.items() if k not in (10, 11, 12, 13, 14))
    assert named == 4 and others <= 2


def test_what_cannot_be_told_is_not():
    rows = worn(3, np.zeros(ANCHORS.size))
    gap = rows[(rows[:, 0] < ANCHORS[6] + 0.3) | (rows[:, 0] > ANCHORS[6] + 0.8)]
    told, _ = follow(gap)
    assert len(told) == ANCHORS.size - 2
    noise = rows.copy()
    noise[:, 1:] = np.random.default_rng(1).standard_normal((len(rows), 6))
    assert len(follow(noise)[0]) <= 5
    assert WornCycles(PLAN).finished(math.inf) == []
    cycles = WornCycles(PLAN)
    cycles.add("nobody", rows)
    assert cycles.finished(100.0) == []


@pytest.mark.parametrize("hz", [25.0, 100.0])
def test_other_rates_will_do(hz):
    told, _ = follow(worn(5, np.zeros(ANCHORS.size), hz=hz))
    assert np.std([one.time - at for (_, one), at in zip(told, ANCHORS, strict=False)]) < 0.012
