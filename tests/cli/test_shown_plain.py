"""Output without its drawings: asked for by an option or once for all, line by line, to the last one."""

import argparse
import sys

import pytest

from tempo_coach.cli import main
from tempo_coach.cli.shown import VARIABLE, is_plain, plain_output


@pytest.mark.parametrize(
    ("option", "variable", "plain"), [(False, None, False), (True, None, True), (False, "1", True), (False, "", False)]
)
def test_it_is_asked_for_by_an_option_or_in_the_environment(monkeypatch, option, variable, plain):
    monkeypatch.delenv(VARIABLE, raising=False)
    if variable is not None:
        monkeypatch.setenv(VARIABLE, variable)
    assert is_plain(argparse.Namespace(plain=option)) is plain


def test_drawings_go_and_words_and_empty_lines_stay(capsys):
    with plain_output(on=True):
        print("Zoë 🤸: 12 ms late")
        print()
        print("right  ····●·····")
        print()
        print("phases  │low────│high───")
    assert capsys.readouterr().out == "Zoë 🤸: 12 ms late\n\nphases  low  high\n"


def test_lines_are_put_together_from_pieces_and_the_last_needs_no_end(capsys):
    with plain_output(on=True):
        for piece in ("a", "b\nc", "", "\n\n", "d e"):
            assert sys.stdout.write(piece) == len(piece)
        sys.stdout.flush()
        assert capsys.readouterr().out == "ab\nc\n\n"
    assert capsys.readouterr().out == "d e"


def test_what_was_printed_before_a_mistake_is_not_lost(capsys):
    before = sys.stdout

    def fail():
        print("half a line", end="")
        raise RuntimeError

    with pytest.raises(RuntimeError), plain_output(on=True):
        fail()
    assert capsys.readouterr().out == "half a line"
    assert sys.stdout is before


def test_without_it_nothing_is_changed(capsys):
    with plain_output(on=False):
        print("right  ····●·····")
    assert capsys.readouterr().out == "right  ····●·····\n"


@pytest.mark.parametrize(("language", "counts", "phases"), [("en", "counts", "phases"), ("de", "Zählen", "Phasen")])
def test_a_row_of_counts_goes_in_every_language(capsys, language, counts, phases):
    assert main(["--language", language, "drills", "show", "rope_figure_eight", "--plain"]) == 0
    begun = [row.split(" ")[0] for row in capsys.readouterr().out.splitlines()]
    assert phases in begun and counts not in begun
