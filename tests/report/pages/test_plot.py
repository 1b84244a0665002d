"""Pictures as values: where values lie, what is drawn there, and which values are round."""

import math
import re
from itertools import pairwise
from xml.etree import ElementTree as ET

import pytest

from tempo_coach.report.pages.plot import BOTTOM, LEFT, RIGHT, TOP, WIDTH, make_picture, room, shape, ticks, whole_ticks


def numbers(part: str, *names: str) -> list[float]:
    return [float(re.search(rf' {name}="([-\d.]+)"', part)[1]) for name in names]  # type: ignore[index]  # it is there


def test_the_ends_of_the_ranges_lie_at_the_edges_of_the_field() -> None:
    picture = make_picture("t", (-10, 30), (0, 2), height=200)
    assert (picture.x(-10), picture.x(30), picture.x(10)) == (LEFT, WIDTH - RIGHT, (LEFT + WIDTH - RIGHT) / 2)
    assert (picture.y(0), picture.y(2)) == (200 - BOTTOM, TOP + 8)


def test_a_range_of_nothing_is_widened() -> None:
    picture = make_picture("t", (3, 3), (1, 1))
    assert (picture.x.low, picture.x.high, picture.y.low, picture.y.high) == (2.5, 3.5, 0.5, 1.5)


def test_lines_stand_at_round_values_and_the_one_at_0_is_marked() -> None:
    picture = make_picture("t", (-47, 52), (0, 2))
    picture.lines_up()
    assert [re.search(r'class="(\w+)"', part)[1] for part in picture.parts] == ["grid", "grid", "zero", "grid", "grid"]  # type: ignore[index]  # it is there
    for part, value in zip(picture.parts, (-40, -20, 0, 20, 40), strict=True):
        assert numbers(part, "x1", "x2") == pytest.approx([picture.x(value)] * 2, abs=0.05)
        assert numbers(part, "y1", "y2") == [picture.y.start, picture.y.end]


def test_a_bar_reaches_from_one_value_to_the_other_about_its_height() -> None:
    picture = make_picture("t", (-50, 50), (0, 2))
    picture.bar_across(-20, 30, 0.5)
    x, y, width, height = numbers(picture.parts[0], "x", "y", "width", "height")
    assert (x, x + width) == (pytest.approx(picture.x(-20), abs=0.1), pytest.approx(picture.x(30), abs=0.1))
    assert y + height / 2 == pytest.approx(picture.y(0.5), abs=0.1)


def test_words_that_have_no_room_are_left_out() -> None:
    picture = make_picture("t", (0, 100), (0, 1))
    picture.grid_x([(0, "one"), (1, "two"), (50, "three"), (100, "much too long")], name="axis")
    assert [re.search(r">(.*)<", part)[1] for part in picture.parts] == ["one", "three", "axis"]  # type: ignore[index]  # it is there


def test_what_is_written_is_escaped() -> None:
    picture = make_picture('a "<b>"', (0, 1), (0, 1))
    picture.text(1, 2, "<b> & c")
    assert "&lt;b&gt; &amp; c" in picture.svg() and "<b>" not in picture.svg()


def test_hands_have_shapes_of_their_own() -> None:
    kinds = [shape(10, 10, hand).split()[0] for hand in range(4)]
    assert kinds == ["<circle", "<rect", "<polygon", "<circle"]


@pytest.mark.parametrize(("low", "high"), [(-3.7, 12.2), (0.001, 0.0042), (1000, 90_000), (-1, 1)])
def test_ticks_are_round_even_and_inside(low: float, high: float) -> None:
    found = ticks(low, high, 5)
    steps = {round((b - a) / 10 ** math.floor(math.log10(b - a) + 1e-9), 6) for a, b in pairwise(found)}
    assert len(steps) == 1 and steps <= {1.0, 2.0, 2.5, 5.0}
    assert low <= found[0] and found[-1] <= high and 3 <= len(found) <= 6


def test_few_whole_numbers_all_stand_and_many_in_even_steps() -> None:
    assert whole_ticks(3, 6) == [3, 4, 5, 6]
    assert whole_ticks(1, 100) == list(range(1, 101, 9))


def test_a_range_has_room_and_is_the_same_to_both_sides_of_its_middle() -> None:
    assert room([-5, 30, math.nan], least=40, around=0.0) == pytest.approx((-32.4, 32.4))
    assert room([1, 2], least=10) == pytest.approx((1.5 - 5.4, 1.5 + 5.4))
    assert room([], least=10, around=0.0) == pytest.approx((-5.4, 5.4))


def test_ticks_of_narrow_and_far_ranges_are_inside() -> None:
    for low, high in ((-47, 52), (0, 0.013), (1e6, 1e6 + 3), (-1e-9, 1e-9)):
        found = ticks(low, high, 5)
        assert 2 <= len(found) <= 12
        assert all(low - 1e-12 <= value <= high + 1e-12 for value in found)
    assert ticks(3, 3, 5) == [3]


def test_a_range_of_nothing_can_be_drawn() -> None:
    assert room([], least=10)[0] < room([], least=10)[1]
    picture = make_picture("nothing", (1, 1), (2, 2))
    picture.mark(1, 2, 0)
    ET.fromstring(picture.svg())
