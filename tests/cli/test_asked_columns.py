"""The question about columns on the command line: asked in a terminal, answered once, kept for the same header."""

import io
from pathlib import Path

import numpy as np
import pytest

from tempo_coach.cli import main


class Typed(io.StringIO):
    """What somebody types into a terminal."""

    def isatty(self) -> bool:
        return True


@pytest.fixture
def members(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The tables of three members whose header says nothing of what x, y and z are; a terminal to answer in."""
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    monkeypatch.setattr("tempo_coach.cli.shown.Shown.isatty", lambda self: True)
    folder = tmp_path / "members"
    folder.mkdir()
    time = np.arange(1200) / 50
    for name in ("Ada", "Bea", "Cyl"):  # invented
        angle = 4 * np.pi * time
        rows = np.column_stack([time, 0.3 * np.sin(angle), 0.02 * np.cos(angle), -0.3 * np.cos(angle)])
        np.savetxt(folder / f"{name}.csv", rows, delimiter=",", header="time,x,y,z", comments="", fmt="%.5f")
    return folder


def run(typed: str, monkeypatch: pytest.MonkeyPatch, *words: object) -> int:
    monkeypatch.setattr("sys.stdin", Typed(typed))
    return main([str(word) for word in words])


@pytest.mark.parametrize("group", [False, True])
def test_what_columns_are_is_asked_once_and_kept(
    members: Path, group: bool, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    words = ("group", members, "--tempo", 120) if group else ("trace", members / "Ada.csv")
    assert run("1\n", monkeypatch, *words) == 0
    told = capsys.readouterr()
    assert told.err.count("to stop:") == 1
    assert "x from -0.2994 to 0.2994" in told.err and "positions in m\n" in told.err
    if not group:
        assert "position x in m" in told.out
    # nobody is asked again, whatever the command
    assert run("", monkeypatch, "trace", members / "Cyl.csv") == 0
    assert "to stop:" not in capsys.readouterr().err


@pytest.mark.parametrize("typed", ["", "\n", "0\n", "9\n", "metres\n", "²\n"])
def test_who_does_not_answer_is_told_how_to_say_it(
    typed: str, members: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(typed, monkeypatch, "trace", members / "Ada.csv") == 1
    assert "--unit position=m" in capsys.readouterr().err
    assert not (members.parent / "data").exists()


def test_json_asks_nothing(members: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    assert run("1\n", monkeypatch, "trace", members / "Ada.csv", "--json") == 1
    told = capsys.readouterr()
    assert not told.out and "to stop:" not in told.err


def test_learn_asks_which_hand_it_was(
    members: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    words = ("learn", members / "Ada.csv", "--unit", "position=m", "--counts", 1, "--out", tmp_path / "drill.toml")
    assert run("2\n", monkeypatch, *words) == 0
    assert capsys.readouterr().err.count("to stop:") == 1
    assert 'name = "left"' in (tmp_path / "drill.toml").read_text()
    assert run("", monkeypatch, *words, "--force") == 1
    assert "--hand left" in capsys.readouterr().err
