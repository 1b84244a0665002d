"""What a person can mend is said as one sentence, several problems as a line each."""

import pytest

from tempo_coach.errors import CoachError, CoachErrors, nearest


def test_an_error_says_where_what_and_what_next():
    assert str(CoachError("expected a, got b", where="x:1", hint="write a")) == "x:1: expected a, got b; write a."


@pytest.mark.parametrize(
    ("message", "hint", "said"),
    [
        ("no a", None, "no a."),
        ("no a", "write a!", "no a; write a!"),
        ("is it b?", "--a writes it", "is it b? --a writes it."),
    ],
)
def test_it_ends_once_and_leaves_a_key_or_an_option_as_it_is_written(message, hint, said):
    assert str(CoachError(message, hint=hint)) == said


def test_several_problems_are_said_in_their_order_and_never_none():
    both = CoachErrors([CoachError("one", where="x:2", hint="mend it"), CoachError("two?")])
    assert str(both) == "x:2: one; mend it.\ntwo?"
    assert (both.message, both.where, both.hint) == ("one", "x:2", "mend it")
    assert len(both.problems) == 2
    with pytest.raises(ValueError, match="at least one"):
        CoachErrors([])


def test_a_word_that_is_meant_is_guessed_and_a_strange_one_is_not():
    assert nearest("rigth", ["left", "right"]) == "right"
    assert nearest("xyz", ["left", "right"]) is None
    assert nearest("right", []) is None


def test_whatever_is_told_stands_on_one_line_and_is_obeyed_by_no_terminal():
    error = CoachError("got a\x1b[2J", where="x\ny.csv", hint="try\r another")
    assert str(error) == "x␊y.csv: got a␛[2J; try␍ another."
