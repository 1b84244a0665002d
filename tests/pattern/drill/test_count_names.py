"""Counts as a coach says them, and back."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tempo_coach.pattern.drill.count_names import read_count, say_count


@pytest.mark.parametrize(
    ("said", "position"),
    [("1", 0), (1, 0), ("3", 2), (3.5, 2.5), ("3&", 2.5), ("3e", 2.25), ("3a", 2.75), ("1+2/3", 2 / 3), (" 8 ", 7)],
)
def test_counts_are_read_as_they_are_said(said, position):
    assert read_count(said) == pytest.approx(position)


@pytest.mark.parametrize(
    "said",
    [
        "",
        "x",
        "0",
        "0.5",
        "-1",
        "1+1/0",
        "1&&",
        "3i",
        True,
        None,
        "1/2",
        "9" * 5000,
        1e300,
        math.inf,
        math.nan,
    ],
)
def test_what_is_no_count_is_refused(said):
    with pytest.raises(ValueError, match="expected a count"):
        read_count(said)


@given(st.integers(0, 200), st.sampled_from([0, 1 / 4, 1 / 2, 3 / 4, 1 / 3, 2 / 3, 1 / 6, 5 / 6, 1 / 8, 0.3]))
def test_what_is_said_is_read_back(whole, part):
    assert read_count(say_count(whole + part)) == pytest.approx(whole + part, abs=1e-4)


def test_almost_a_whole_count_is_said_as_one():
    assert say_count(2.9999999) == "4"


def test_a_number_of_thousands_of_digits_is_refused():
    with pytest.raises(ValueError, match="expected a count"):
        read_count(10**5000)
