"""Tables that people write: checked values, every problem with its line, near misses suggested."""

import math

import pytest

from tempo_coach.errors import CoachErrors
from tempo_coach.pattern.drill.toml_tables import find_lines, read_table
from tempo_coach.report.words.errors import say_error
from tests.refused import refused

TEXT = """\
title = "Mills"
size = 3
parts = [1]

[cycle]
counts = 2
start = "3&"

[[hand]]
name = "right"

[[hand]]
name = "left"
circles = { low = 1 }
[[hand.moment]]
at = "x"
"""


@pytest.fixture
def table(tmp_path):
    path = tmp_path / "made.toml"
    path.write_text(TEXT)
    return read_table(path, what="readings")


def said(table):
    return [say_error(error) for _, error in table.problems.found]


def test_lines_are_counted_through_arrays_of_tables():
    lines = find_lines(TEXT)
    assert lines["hand", 1, "circles"] == 14
    assert lines["hand", 1, "moment", 0, "at"] == 16
    assert lines["cycle",] == 5
    assert lines["title",] == 1


def test_values_of_the_kind_and_range_that_is_asked_are_handed_out(table):
    assert table.text("title", None) == "Mills"
    assert table.whole("size", None, low=0, high=9) == 3
    cycle = table.table("cycle")
    assert cycle.number("counts", None, low=0, high=9) == 2.0
    assert cycle.count("start") == 2.5
    assert [each.text("name", None) for each in table.tables("hand")] == ["right", "left"]
    assert table.choice("kind", ("a", "b"), "b") == "b"
    assert table.flag("mirrored") is False
    assert table.table("none").data == {}
    assert list(table.tables("none")) == []
    assert said(table) == []


@pytest.mark.parametrize(
    ("ask", "stand_in", "words"),
    [
        (lambda t: t.text("size", None), "", "made.toml:2: size: expected words in quotes, got 3"),
        (lambda t: t.text("gone", None), "", "made.toml:1: gone: expected the entry gone, found none"),
        (lambda t: t.choice("title", ("Mill", "Roll"), "Roll"), "Roll", "expected Mill or Roll, got 'Mills'; did you"),
        (lambda t: t.number("size", 1.0, low=0, high=2), 1.0, "size: expected a number from 0 to 2, got 3"),
        (lambda t: t.number("title", 1.0, low=0, high=2), 1.0, "title: expected a number from 0 to 2, got 'Mills'"),
        (lambda t: t.whole("size", None, low=5, high=9), 5, "size: expected a whole number from 5 to 9, got 3"),
        (lambda t: t.flag("size"), False, "size: expected true or false, got 3"),
        (lambda t: t.table("size").data, {}, "size: expected a table, got 3"),
        (lambda t: list(t.tables("parts")), [], r"parts: expected one or more tables headed [[parts]]"),
    ],
)
def test_what_is_wrong_is_noted_with_its_line_and_a_stand_in_handed_out(table, ask, stand_in, words):
    assert ask(table) == stand_in
    assert len(said(table)) == 1 and words in said(table)[0]


def test_a_number_or_a_count_that_cannot_be_is_not_a_number(table):
    assert math.isnan(table.number("title", None, low=0, high=9))
    moment = next(list(table.tables("hand"))[1].tables("moment"))
    assert math.isnan(moment.count("at")) and math.isnan(moment.count("gone"))
    assert "made.toml:16: hand.moment.at: expected a count such as" in said(table)[1]


def test_what_is_missing_is_said_at_the_table_that_lacks_it(table):
    right, left = table.tables("hand")
    left.text("gone", None)
    right.text("gone", None)
    assert [line for line, _ in table.problems.found] == [12, 9]


def test_what_nobody_asked_for_is_said_with_the_near_miss_and_all_in_the_order_of_the_file(table):
    cycle = table.table("cycle")
    cycle.count("starts")
    cycle.no_more()
    table.text("titles")
    table.no_more()
    with pytest.raises(CoachErrors) as caught:
        table.problems.raise_if_any()
    lines = say_error(caught.value).splitlines()
    assert any("title: this entry is not known; did you mean titles?" in line for line in lines)
    assert any("cycle.start: this entry is not known; did you mean starts?" in line for line in lines)
    numbers = [int(line.split(".toml:")[1].split(":")[0]) for line in lines]
    assert numbers == sorted(numbers)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("a = 1\na = 2\n", r":2: expected a table in TOML, but"),
        ("a = " + 5000 * "[", "nested too deeply"),
        ("a = " + 5000 * "9", "expected a table in TOML, but a number in it has too many digits"),
        ("a = 1\n" + 5000 * "b." + "c = 1", ":2: expected a table in TOML, but a name in it has too many parts"),
        ("a = ", ":1: expected a table in TOML, but invalid value"),
    ],
)
def test_what_is_no_toml_is_said_with_its_line(tmp_path, text, words):
    path = tmp_path / "bad.toml"
    path.write_text(text)
    with refused(words):
        read_table(path, what="readings")


def test_a_value_without_end_is_told_in_a_short_sentence(tmp_path):
    path = tmp_path / "long.toml"
    path.write_text(f'count = 0x{"F" * 5000}\nword = "{"x" * 5000}"\nnumber = 0x{"F" * 5000}\n')
    table = read_table(path, what="readings")
    assert math.isnan(table.count("count"))
    assert table.choice("word", ("a", "b"), "a") == "a"
    assert math.isnan(table.number("number", None, low=0, high=1))
    with pytest.raises(CoachErrors) as caught:
        table.problems.raise_if_any()
    assert len(say_error(caught.value).splitlines()) == 3
    assert len(say_error(caught.value)) < 1000


def test_a_thousand_problems_do_not_fill_the_screen(tmp_path):
    path = tmp_path / "many.toml"
    path.write_text("".join(f"key_{k} = 1\n" for k in range(1000)))
    table = read_table(path, what="readings")
    table.text("title")
    table.no_more()
    with pytest.raises(CoachErrors) as caught:
        table.problems.raise_if_any()
    lines = say_error(caught.value).splitlines()
    assert len(lines) == 21
    assert lines[-1].endswith("and 980 more problems.")
