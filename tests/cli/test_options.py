"""Options that several commands share: what they ask for, and what a routine decides."""

import argparse
from pathlib import Path

import pytest

from tempo_coach.cli import main
from tempo_coach.cli.options import (
    EXAMPLE,
    add_force,
    add_json,
    add_passage,
    examples,
    read_request,
    refuse_for_routine,
)
from tempo_coach.coach import Request
from tempo_coach.errors import CoachError
from tempo_coach.report.words.errors import hint_of, message_of


def parse(*words):
    parser = argparse.ArgumentParser()
    add_passage(parser)
    add_json(parser)
    add_force(parser)
    return parser.parse_args(words)


def test_without_options_the_drill_decides():
    assert read_request(parse(), "clubs_mills") == Request("clubs_mills", speed=1.0, from_eight=1)
    assert (parse().json, parse().force) == (False, False)


def test_every_option_is_handed_on():
    args = parse(
        *("--tempo", "92.5", "--music", "Für Zoë.wav", "--from-eight", "3", "--eights", "4", "--cycles", "5"),
        *("--speed", "0.8", "--lead-in", "0", "--cues", "ones", "--mirrored", "--hand", "left", "--voice"),
    )
    assert read_request(args, "ü") == Request(
        drill="ü",
        music="Für Zoë.wav",
        tempo_bpm=92.5,
        from_eight=3,
        eights=4,
        cycles=5,
        speed=0.8,
        lead_in_counts=0,
        cues="ones",
        mirrored=True,
        hand="left",
        spoken=True,
    )


@pytest.mark.parametrize(("words", "voice"), [((), None), (("--voice",), ""), (("--voice", "de"), "de")])
def test_a_voice_speaks_the_language_of_the_screen_unless_it_is_named(words, voice):
    assert parse(*words).voice == voice
    assert read_request(parse(*words), "d").spoken is (voice is not None)


NAMES = ("music", "tempo", "cycles", "mirrored", "hand", "eights", "lead_in")


def test_what_was_not_given_is_not_refused():
    refuse_for_routine(parse("--speed", "0.8"), *NAMES)
    refuse_for_routine(parse("--tempo", "80"))


@pytest.mark.parametrize(
    ("words", "option"),
    [
        (("--tempo", "80"), "--tempo"),
        (("--tempo", "0"), "--tempo"),
        (("--eights", "0"), "--eights"),
        (("--cycles", "0"), "--cycles"),
        (("--lead-in", "0"), "--lead-in"),
        (("--music", ""), "--music"),
        (("--mirrored",), "--mirrored"),
        (("--hand", "left", "--music", "x"), "--music"),  # the first that was asked about
    ],
)
def test_what_a_routine_decides_is_refused_also_where_it_is_0(words, option):
    with pytest.raises(CoachError) as caught:
        refuse_for_routine(parse(*words), *NAMES)
    assert (message_of(caught.value), caught.value.where, hint_of(caught.value)) == (
        "the routine decides this",
        option,
        "leave the option out, or name a drill",
    )


def test_examples_are_a_line_each():
    assert examples("a b", "c") == f"{EXAMPLE}a b\n{EXAMPLE}c"


@pytest.mark.parametrize(
    ("words", "option"),
    [
        ("history --last 0", "--last"),
        ("history --rescore --jobs 0", "--jobs"),
        ("history --rescore --backend dask", "--rescore"),
        ("history --note x text", "--note"),
        ("history --rescore --scheduler tcp://127.0.0.1:1", "--rescore"),
        ("group a.csv --tempo 120 --canon 2", "--canon"),
        ("group a.csv --tempo 120 --place A", "--place"),
        ("group a.csv --plan p.json --drill clubs_mills", "--plan"),
        ("toss --music a.wav --routine a.toml --counts 4", "--music"),
        ("toss --table", "--table"),
        ("group a.csv --tempo 120 --canon A=1e300", "--canon"),
        ("toss --counts 4 --tempo 100 --on 9", "--on"),
    ],
)
def test_a_value_that_no_option_takes_is_wrong_usage(words, option, tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    Path("a.csv").write_text("time,member\n" + "".join(f"{k / 2},{name}\n" for k in range(8) for name in "AB"))
    assert main(words.split()) == 2
    said = capsys.readouterr().err
    assert f"{option}: " in said and said.count("\n") == 1
    assert [path.name for path in tmp_path.iterdir()] == ["a.csv"]
