"""Moments of a hand as a table, with cycles of different length."""

import numpy as np

from tempo_coach.pattern.plan.plan import Moments
from tempo_coach.score.pairing.hand import lay_grid

HANDS = ("right", "left", "right", "right", "right", "right")
MOMENTS = Moments(
    time=[0.0, 0.0, 0.5, 2.0, 4.0, 4.5],
    cycle=[3, 3, 3, 4, 6, 6],
    hand=HANDS,
    label=[""] * 6,
    count=np.arange(6.0),
    asked_lag_deg=np.full(6, np.nan),
    cue=[False] * 6,
    kind=["circle"] * 6,
)


def test_rows_are_cycles_and_a_short_one_has_a_gap():
    grid = lay_grid(MOMENTS, "right")
    assert grid.hand == "right"
    assert grid.cycles.tolist() == [3, 4, 6]
    assert grid.at.tolist() == [[0, 2], [3, -1], [4, 5]]
    assert grid.in_order.tolist() == [0, 2, 3, 4, 5]
    np.testing.assert_array_equal(grid.fill(np.arange(6.0) * 10), [[0, 20], [30, np.nan], [40, 50]])


def test_one_moment_a_cycle_and_none():
    left, nobody = lay_grid(MOMENTS, "left"), lay_grid(MOMENTS, "nobody")
    assert (left.cycles.tolist(), left.at.tolist(), left.in_order.tolist()) == ([3], [[1]], [1])
    assert nobody.at.shape == (0, 0) and nobody.in_order.size == 0 and nobody.fill(np.zeros(6)).shape == (0, 0)
