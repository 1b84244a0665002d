"""The help of every command: told in plain words, every option explained, and examples that run."""

from __future__ import annotations

import argparse
import re
import shlex
from functools import cache
from typing import TYPE_CHECKING

import pytest

from tempo_coach.cli import COMMANDS, build_parser, main
from tempo_coach.history.data_folder import FILE_VARIABLE
from tempo_coach.history.takes import History
from tempo_coach.pattern.plan.plan_file import read_plan
from tests.generators import workplace
from tests.history.season import put

if TYPE_CHECKING:
    from pathlib import Path

#: They open a screen or wait for a person: their options are checked, they are not run.
NOT_RUN = {"practise", "counts", "calibrate", "countfilm"}
#: The others in an order in which each finds what the ones before it wrote.
RUN = (
    "demo",
    "doctor",
    "completion",
    "drills",
    "listen",
    "cut",
    "sheet",
    "check",
    "cue",
    "toss",
    "trace",
    "compare",
    "learn",
    "score",
    "group",
    "history",
    "report",
    "today",
    "goal",
    "share",
    "correct",
    "forget",
    "film",
)
#: Words of the trade of programming, which nobody has to know who reads a help.
JARGON = re.compile(
    r"\b(argument|boolean|string|integer|float|default value|stdout|stderr|stdin|parse[rsd]?|directory|path|flag|exit|"
    r"regex|process(es)?|thread|config|null|JSON|HTML|SQLite|Markdown|UTF-8|API)\b"
)


@cache
def command_of(name: str) -> argparse.ArgumentParser:
    (commands,) = (each for each in build_parser()._actions if isinstance(each, argparse._SubParsersAction))
    found: argparse.ArgumentParser = commands.choices[name]
    return found


def examples_of(name: str) -> list[list[str]]:
    return [shlex.split(line)[2:] for line in (command_of(name).epilog or "").splitlines()]


def write_onsets(plan_file: Path) -> None:
    """What was done, exactly as asked, in the three tables that examples name."""
    moments = read_plan(plan_file).moments
    rows = zip(moments.time.tolist(), moments.hand, strict=True)
    text = "time,hand\n" + "".join(f"{time},{hand}\n" for time, hand in rows)
    for name in ("onsets.csv", "ada.csv", "bea.csv"):
        plan_file.with_name(name).write_text(text)
    workplace.record_claps(plan_file, plan_file.with_name("gym.wav"))


def test_every_command_is_either_run_or_waits_for_a_person() -> None:
    assert NOT_RUN | set(RUN) == set(COMMANDS) and NOT_RUN.isdisjoint(RUN)


def test_every_example_of_every_help_runs(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    workplace.fill(tmp_path)
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv(FILE_VARIABLE, str(tmp_path / "history.sqlite"))
    with History(tmp_path / "history.sqlite") as history:
        for seed, name in enumerate(("Ada", "Ada", "Bea"), 1):
            put(history, seed, athlete=name, begun=f"2031-05-0{seed}T18:00:00")
    for name in RUN:
        assert examples_of(name)
        for words in examples_of(name):
            if "--live" in words:  # it opens a screen
                assert build_parser().parse_args(words).live
                continue
            asked = ["--yes"] if name == "forget" else []  # it waits for an answer
            assert main([*words, *asked]) == 0, (words, capsys.readouterr().err)
        if name == "cue":
            write_onsets(tmp_path / "mills.json")


@pytest.mark.parametrize("name", sorted(NOT_RUN))
def test_examples_that_wait_for_a_person_are_understood(name: str) -> None:
    for words in examples_of(name):
        assert build_parser().parse_args(words).command == name


def test_everything_that_can_be_given_is_explained_without_jargon() -> None:
    for name in COMMANDS:
        command = command_of(name)
        for words in (command.description or "", *(action.help or "" for action in command._actions)):
            assert len(words) > 2, name
            assert not JARGON.search(words), (name, words)


def test_a_number_has_its_unit_and_its_default() -> None:
    """An option that has a default of its own says it."""
    for name, action in ((each, action) for each in COMMANDS for action in command_of(each)._actions):
        if action.default in (None, False, "", argparse.SUPPRESS) or isinstance(action.default, (list, tuple)):
            continue
        assert "default" in (action.help or ""), (name, action.option_strings)


def test_one_option_is_explained_with_the_same_words_wherever_it_means_the_same() -> None:
    for option in ("--device", "--json", "--force", "--file", "--point", "--meter", "--taps", "--known", "--against"):
        told = {
            action.help
            for name in COMMANDS
            for action in command_of(name)._actions
            if option in action.option_strings and name not in ("calibrate", "drills")
        }
        assert len(told) == 1, (option, told)


def test_an_example_is_never_broken_into_two_lines(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("COLUMNS", "50")
    with pytest.raises(SystemExit):
        main(["film", "--help"])
    assert capsys.readouterr().out.splitlines()[-1].endswith("--out mills.csv --check look.html")
