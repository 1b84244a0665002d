"""Columns are copied, checked and locked, and what is wrong is said with its place."""

import numpy as np
import pytest

from tempo_coach.times import ascending, column, whole


@pytest.mark.parametrize("make", [column, ascending, whole])
def test_a_column_is_a_copy_that_nobody_can_write_to(make):
    mine = np.array([0.0, 1.0])
    kept = make(mine, name="n")
    mine[0] = 5.0
    assert kept.tolist() == [0, 1]
    assert kept.dtype == (np.int64 if make is whole else np.float64)
    with pytest.raises(ValueError, match="read-only"):
        kept[0] = 1


@pytest.mark.parametrize("make", [column, ascending, whole])
def test_nothing_and_a_single_value_are_columns(make):
    assert make([], name="n").shape == (0,)
    assert make([2], name="n").tolist() == [2]


@pytest.mark.parametrize(
    ("make", "words"),
    [
        (lambda: ascending([1, 0], name="t"), "t: expected ascending order, got 0.0 after 1.0 at position 1"),
        (lambda: ascending([0, 1, 1], name="t", strict=True), "t: expected ascending order, got 1.0 after 1.0 at pos"),
        (lambda: column([[1]], name="t"), r"t: expected one dimension, got shape \(1, 1\)"),
        (lambda: column(1.0, name="t"), "t: expected one dimension"),
        (lambda: column([0, float("nan")], name="t"), "t: expected finite numbers, got nan at position 1"),
        (lambda: column([float("inf")], name="t", allow_nan=True), "t: expected finite numbers, got inf at position 0"),
        (lambda: ascending([float("nan")], name="t"), "finite"),
        (lambda: whole([1.5], name="n"), "n: expected whole numbers"),
    ],
)
def test_what_is_no_column_is_refused(make, words):
    with pytest.raises(ValueError, match=words):
        make()


def test_equal_neighbours_and_what_is_not_known_may_stand_where_they_are_allowed():
    assert ascending([1, 1], name="t").tolist() == [1, 1]
    assert np.isnan(column([float("nan")], name="t", allow_nan=True)).all()
