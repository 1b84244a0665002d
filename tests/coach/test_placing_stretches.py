"""A stretch of seconds as it is typed: two numbers in order, else a sentence that says where and what was expected."""

import pytest

from tempo_coach.coach import read_stretch
from tests.refused import refused


@pytest.mark.parametrize(("text", "stretch"), [("12.0-13.5", (12.0, 13.5)), ("0-1", (0.0, 1.0)), (" 2 - 3 ", (2, 3))])
def test_two_numbers_in_order_are_a_stretch(text: str, stretch: tuple[float, float]) -> None:
    assert read_stretch(text, where="--without") == stretch


@pytest.mark.parametrize("text", ["", "12", "13-12", "3-3", "-1-3", "a-b", "1-2-3", "nan-3", "1-nan", "1–2"])
def test_anything_else_is_refused_where_it_was_asked_for(text: str) -> None:
    with refused(r"such as 12\.0-13\.5") as caught:
        read_stretch(text, where="--quiet")
    assert caught.value.where == "--quiet"
