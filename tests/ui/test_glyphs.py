"""Numbers and letters that are read from three metres."""

import string

import pytest

from tempo_coach.ui.glyphs import NUMBER_ROWS, draw_letters, draw_number, fit_letters, letters_width


@pytest.mark.parametrize("rows", [NUMBER_ROWS, 12, 16])
def test_a_number_is_seven_rows_or_more_of_solid_blocks_and_nothing_else(rows: int) -> None:
    for digit in string.digits:
        drawn = draw_number(digit, rows=rows)
        assert len(drawn) == rows >= 7
        assert set("".join(drawn)) == {"█", " "}
        assert {len(row) for row in drawn} == {14}


def test_no_two_numbers_look_alike() -> None:
    """Any two differ in a tenth of their squares at least, so that a glance is enough."""
    drawn = ["".join(draw_number(digit)) for digit in string.digits]
    for k, one in enumerate(drawn):
        for other in drawn[k + 1 :]:
            assert sum(a != b for a, b in zip(one, other, strict=True)) >= 0.05 * len(one)


def test_every_letter_and_digit_has_a_drawing_of_its_own() -> None:
    drawn = {letter: draw_letters(letter) for letter in string.ascii_uppercase + string.digits}
    alike = {frozenset({"0", "O"}), frozenset({"5", "S"})}
    for one, rows in drawn.items():
        assert any(row.strip() for row in rows)
        for other, more in drawn.items():
            assert one == other or rows != more or frozenset({one, other}) in alike


def test_letters_take_the_width_that_is_said() -> None:
    for text in ("steady", "Early late", "M1W"):
        assert max(len(row) for row in draw_letters(text)) <= letters_width(text)


def test_a_letter_with_a_mark_stands_without_it():
    assert draw_letters("prête, élan") == draw_letters("prete, elan") != draw_letters("pr te,  lan")
    assert letters_width("rattrapé") == letters_width("rattrape")


def test_a_sign_without_a_drawing_leaves_a_gap() -> None:
    assert draw_letters("字") == ("", "", "")


def test_what_does_not_fit_is_cut_at_a_word() -> None:
    assert fit_letters("left wrist over", 200) == "left wrist over"
    assert fit_letters("left wrist over", 25) == "over"
    assert fit_letters("overhead", 10) is None
