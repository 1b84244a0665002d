"""The level on which most members move: told by phases, whoever else is heard in between."""

from __future__ import annotations

import numpy as np
import pytest

from tempo_coach.music.counts.count_map import CountMap
from tempo_coach.observe.take.onsets import Onsets, Take
from tempo_coach.pattern.plan.every_count import lay_every_count
from tempo_coach.score.group.pace import find_level

PLAN = lay_every_count(CountMap.steady(60), end=31.0, tempo_bpm=60)


def take(times: np.ndarray, seed: int) -> Take:
    near = times + 0.02 * np.random.default_rng(seed).standard_normal(times.size)
    return Take(PLAN, Onsets.unsorted(near.tolist(), ["body"] * near.size))


@pytest.mark.parametrize(
    ("level", "times"),
    [
        (1, np.arange(32.0)),
        (1, np.arange(32.0) + 0.3),
        (2, np.arange(0, 32, 0.5)),
        (3, np.arange(0, 32, 1 / 3)),
        # each second half count besides is a rhythm, and each second count a half of it
        (1, np.sort(np.concatenate([np.arange(32.0), np.arange(0.5, 32, 2)]))),
        (1, np.arange(0, 32, 2.0)),
        (1, np.arange(0, 32, 0.71)),
    ],
)
def test_most_members_say_the_level(level: int, times: np.ndarray) -> None:
    assert find_level([take(times, seed) for seed in range(5)]) == level


def test_neighbours_that_are_heard_as_well_change_nothing_and_few_members_are_not_most() -> None:
    halves = np.arange(0, 32, 0.5)
    heard = np.concatenate([halves + off for off in (0, 0.03, -0.04, 0.05)])
    assert find_level([take(heard, seed) for seed in range(5)]) == 2
    assert find_level([take(np.arange(32.0), 0), take(np.arange(32.0), 1), take(halves, 2)]) == 1
    assert find_level([take(halves[:4], 0), take(halves, 1)]) == 1
