"""Moves under a toss: the table that comes along, and what fits."""

import pytest

from tempo_coach.errors import CoachErrors
from tempo_coach.pattern.toss.moves import Move, fit_moves, read_moves
from tempo_coach.report.words.errors import say_error
from tests.refused import refused


def test_the_table_that_comes_with_the_program_has_the_moves_that_are_taught_first():
    # common practice: a roll, one turn, two turns
    moves = {move.name: move.counts for move in read_moves()}
    assert {"a roll", "one turn", "two turns"} <= set(moves)
    assert moves["one turn"] < moves["two turns"]


def test_a_move_fits_when_it_is_over_by_the_catch():
    fits = fit_moves(3, (Move("one turn", 2), Move("two turns", 3), Move("a roll", 3.5)))
    assert [(fit.spare, fit.fits) for fit in fits] == [(1, True), (0, True), (-0.5, False)]
    assert fits[2].to_dict() == {"move": "a roll", "counts": 3.5, "spare": -0.5, "fits": False}


def test_an_edited_table_is_read(tmp_path):
    file = tmp_path / "moves.toml"
    file.write_text('[[move]]\nname = "cartwheel"\ncounts = 2.5\n')
    assert read_moves(file) == (Move("cartwheel", 2.5),)


def test_every_wrong_move_is_reported(tmp_path):
    file = tmp_path / "moves.toml"
    file.write_text(
        '[[move]]\nname = "a"\ncounts = 0\n[[move]]\nname = ""\ncounts = 1\n'
        '[[move]]\nname = "c"\n[[move]]\nname = "d"\ncounts = true\n[[move]]\nname = "e"\ncounts = 1\nnot = ""\n'
    )
    with pytest.raises(CoachErrors) as caught:
        read_moves(file)
    where = [str(problem.where).removeprefix(f"{file}:") for problem in caught.value.problems]
    assert where == ["3: move.counts", "5: move.name", "7: move.counts", "11: move.counts", "15: move.not"]
    assert "did you mean note?" in say_error(caught.value)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", r"at least one move, found none; add a table headed \[\[move\]\]"),
        ("move = 3", r"moves\.toml:1: move: expected one or more tables headed \[\[move\]\]"),
        ("[[move", "TOML"),
        ("move = " + 5000 * "[", "TOML.*too deeply"),
        (None, "no such file"),
    ],
)
def test_a_file_that_is_no_table_of_moves(tmp_path, text, said):
    file = tmp_path / "moves.toml"
    if text is not None:
        file.write_text(text)
    with refused(said):
        read_moves(file)
