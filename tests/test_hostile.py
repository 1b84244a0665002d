"""Every option of every command given what nobody should give it, some of them here: a sentence each, nothing lost.

The options come from the parser, so that a new one is covered by itself. The whole of it is among the benchmarks.
"""

from __future__ import annotations

import contextlib
import random
import shutil
import signal
from typing import TYPE_CHECKING

from tempo_coach.cli import COMMANDS, main
from tests.generators.hostile import furnish, one_of_each, ways

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    import pytest

#: They make music or measure the machine before they look at what they are given.
LONG = {"demo", "calibrate", "doctor"}
#: Which of its hostile values each option gets here, and how many options are tried.
TURN, TRIED = 0, 60
#: Seconds after which a case is taken for a hang; it is a thousand times what one needs.
HANGS = 60


@contextlib.contextmanager
def no_hang(words: object) -> Iterator[None]:
    def end(*_: object) -> None:
        raise AssertionError(f"it hangs: {words}")

    before = signal.signal(signal.SIGALRM, end)
    signal.alarm(HANGS)
    try:
        yield
    finally:
        signal.alarm(0)
        signal.signal(signal.SIGALRM, before)


def test_every_command_has_a_way_in_which_it_is_tried() -> None:
    assert {way[0] for way in ways()} == set(COMMANDS)


def look(folder: Path) -> dict[str, tuple[int, int]]:
    """Size and time of every file but the history, which commands write to."""
    found = {path.name: path.lstat() for path in folder.iterdir() if not path.name.startswith("history.sqlite")}
    return {name: (seen.st_size, seen.st_mtime_ns) for name, seen in found.items()}


def test_some_options_once(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]) -> None:
    furnish(tmp_path)
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("TEMPO_COACH_HISTORY", str(tmp_path / "history.sqlite"))
    there = look(tmp_path)
    some = [case for case in one_of_each(TURN) if case.command not in LONG]
    for case in random.Random(TURN).sample(some, TRIED):
        with no_hang(case.words):
            try:
                code: object = main(case.words)
            except SystemExit as left:
                code = left.code
        said = capfd.readouterr().err
        assert code in (0, 1, 2), case.words
        if code:
            assert any(line.startswith("tempo-coach") for line in said.splitlines()), (case.words, said)
        now = look(tmp_path)
        assert {name: now.get(name) for name in there} == there, case.words
        for name in set(now) - set(there):
            path = tmp_path / name
            shutil.rmtree(path) if path.is_dir() else path.unlink()
