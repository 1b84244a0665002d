"""``tempo-coach calibrate`` without sound; with it in the tests of the live path."""

from __future__ import annotations

import io
import json
from typing import TYPE_CHECKING

import pytest

from tempo_coach.cli import main
from tempo_coach.live.setup.calibration import THIS_COMPUTER, keep_calibration, setup_of

if TYPE_CHECKING:
    from pathlib import Path


@pytest.fixture(autouse=True)
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    for name in ("XDG_DATA_HOME", "LOCALAPPDATA", "HOME"):
        monkeypatch.setenv(name, str(tmp_path))
    monkeypatch.setattr("sys.stdin", io.StringIO())  # no terminal, whoever runs the tests
    return tmp_path


def test_without_sound_and_terminal_the_stamps_are_tested_and_the_rest_is_said(
    capsys: pytest.CaptureFixture[str],
) -> None:
    assert main(["calibrate", "--json"]) == 0
    out, err = capsys.readouterr()
    found = json.loads(out)["devices"]
    assert list(found) == [THIS_COMPUTER] and list(found[THIS_COMPUTER]) == ["stamps"]
    stamps = found[THIS_COMPUTER]["stamps"]
    assert stamps["n"] == 150 and 0 < stamps["delay_ms"] < 50
    assert "needs a terminal" in err
    assert setup_of("whatever", "tap").noise_floor_ms == stamps["spread_ms"]


def test_a_device_that_changes_is_warned_of_when_it_is_shown(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["calibrate", "--show"]) == 0
    assert "Nothing is calibrated yet" in capsys.readouterr().out
    loop = {"loop_ms": 190.0, "openings_ms": [187.0, 288.0], "spread_ms": 0.1, "changes": True, "begun": ""}
    keep_calibration("speaker", {"loop": loop})
    assert main(["calibrate", "--show"]) == 0
    out, err = capsys.readouterr()
    assert "187.0, 288.0" in out and "changed by 101 ms" in err


@pytest.mark.parametrize("words", [["--clicks", "3"], ["--openings", "0"]])
def test_numbers_that_make_no_sense_are_refused(words: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["calibrate", *words]) == 1
    assert words[0] in capsys.readouterr().err
