"""What a person can mend is a code with facts, and is said as one sentence, several problems as a line each."""

import pickle

import pytest

from tempo_coach.errors import CoachError, CoachErrors, WrongUsage, nearest
from tempo_coach.report.words import errors
from tempo_coach.report.words.errors import hint_of, message_of, say_error


@pytest.fixture(autouse=True)
def words(monkeypatch):
    """A few entries of every kind, and none of the program's."""
    entries = {
        "a.missing": ("expected {name!r}, got {found}", "write {name}"),
        "a.doubtful": ("is it {name}?", "--a writes it"),
        "a.urgent": ("no {name}", "write {name}!"),
        "a.bare": "no {heights_m}",
        "a.chosen": (lambda height_m: "low" if height_m < 1 else "high", lambda name: f"take {name}" if name else ""),
        "a.within": "in vain: {problem}",
    }
    monkeypatch.setattr(errors, "WORDS", entries)


def test_an_error_says_where_what_and_what_next():
    error = CoachError("a.missing", where="x:1", name="a", found="b")
    assert say_error(error) == "x:1: expected 'a', got b; write a."
    assert (message_of(error), hint_of(error)) == ("expected 'a', got b", "write a")


def test_below_the_words_it_is_a_code_with_facts():
    assert str(CoachError("a.missing", where="x:1", name="a", found=2)) == "x:1: a.missing (name=a, found=2)"
    assert str(CoachError("a.bare")) == "a.bare"


@pytest.mark.parametrize(
    ("code", "said"),
    [
        ("a.bare", "no 1, 2."),
        ("a.urgent", "no a; write a!"),
        ("a.doubtful", "is it a? --a writes it."),
        ("a.chosen", "low; take a."),
    ],
)
def test_it_ends_once_and_leaves_a_key_or_an_option_as_it_is_written(code, said):
    assert say_error(CoachError(code, name="a", heights_m=(1, 2), height_m=0.5)) == said


def test_a_hint_that_a_function_leaves_out_is_none():
    assert hint_of(CoachError("a.chosen", name=None, height_m=2.0)) is None
    assert say_error(CoachError("a.chosen", name=None, height_m=2.0)) == "high."


def test_an_error_that_is_a_fact_tells_what_it_found():
    inside = CoachError("a.missing", where="x:1", name="a", found="b")
    assert say_error(CoachError("a.within", problem=inside)) == "in vain: expected 'a', got b."


def test_it_can_be_told_of_another_place_and_is_the_same():
    moved = WrongUsage("a.missing", where="x", name="a", found="b").at("y")
    assert (type(moved), moved.code, moved.where, moved.facts) == (
        WrongUsage,
        "a.missing",
        "y",
        {"name": "a", "found": "b"},
    )


def test_it_comes_whole_out_of_another_process():
    error = CoachError("a.missing", where="x", name="a", found="b")
    assert say_error(pickle.loads(pickle.dumps(error))) == say_error(error)


def test_several_problems_are_said_in_their_order_and_never_none():
    both = CoachErrors(
        [
            CoachError("a.missing", where="x:2", name="a", found="b"),
            CoachError("a.doubtful", name="c"),
        ]
    )
    assert say_error(both) == "x:2: expected 'a', got b; write a.\nis it c? --a writes it."
    assert (message_of(both), both.where, hint_of(both)) == ("expected 'a', got b", "x:2", "write a")
    assert len(both.problems) == 2
    assert say_error(both.at("y")) == "y: expected 'a', got b; write a."
    with pytest.raises(ValueError, match="at least one"):
        CoachErrors([])


def test_a_word_that_is_meant_is_guessed_and_a_strange_one_is_not():
    assert nearest("rigth", ["left", "right"]) == "right"
    assert nearest("xyz", ["left", "right"]) is None
    assert nearest("right", []) is None


def test_whatever_is_told_stands_on_one_line_and_is_obeyed_by_no_terminal():
    error = CoachError("a.missing", where="x\ny.csv", name="t\r", found="a\x1b[2J")
    assert say_error(error) == "x␊y.csv: expected 't\\r', got a␛[2J; write t␍."
    assert "\x1b" not in str(error)
