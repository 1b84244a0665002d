"""``tempo-coach calibrate`` on a sound server of the tests' own, whose monitor is the microphone."""

from __future__ import annotations

import io
import json
from typing import TYPE_CHECKING

import pytest

from tempo_coach.cli import main
from tempo_coach.live.setup.calibration import THIS_COMPUTER, setup_of
from tests.ui.test_terminal import Terminal

if TYPE_CHECKING:
    from pathlib import Path

    from tests.live.sound_server import SoundServer


#: How often it is tried where the sound of a machine that does much else at once stands still, which is said.
TRIES = 4


@pytest.fixture(autouse=True)
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    for name in ("XDG_DATA_HOME", "LOCALAPPDATA", "HOME"):
        monkeypatch.setenv(name, str(tmp_path))
    monkeypatch.setattr("sys.stdin", io.StringIO())  # no terminal, whoever runs the tests
    return tmp_path


def test_chirps_through_loudspeaker_and_microphone_tell_the_loop_of_each_opening(
    sound_server: SoundServer, capsys: pytest.CaptureFixture[str]
) -> None:
    with sound_server.recording():
        for _ in range(TRIES):
            ended = main(["calibrate", "--microphone", "--openings", "2", "--json"])
            told = capsys.readouterr()
            if "stopped moving" not in told.err:
                break
    assert ended == 0, told.err
    devices = json.loads(told.out)["devices"]
    (name,) = set(devices) - {THIS_COMPUTER}
    loop = devices[name]["loop"]
    assert len(loop["openings_ms"]) == 2 and 0 < loop["loop_ms"] < 1000
    assert loop["changes"] == (abs(loop["openings_ms"][0] - loop["openings_ms"][1]) > 5)
    assert setup_of(name, "contact").loop == pytest.approx(loop["loop_ms"] / 1000)


def test_taps_to_clicks_in_a_terminal_are_measured_kept_and_shown(
    sound_server: SoundServer, home: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    with sound_server.recording():
        terminal = Terminal("calibrate", "--clicks", "24", XDG_DATA_HOME=str(home))
        terminal.wait_for(lambda: b"four clicks" in terminal.drawn)
        while not any(word in terminal.drawn for word in (b"Kept in", b"tempo-coach: ")):
            terminal.press(b"j")
            terminal.read(0.6)  # as often as clicks come, whatever their beginning
        if b"contradicts itself" in terminal.drawn:
            terminal.end()
            pytest.skip("the machine is so busy that its sound device contradicts itself")
        assert terminal.end() == 0, terminal.drawn.decode()[-300:]
    text = terminal.drawn.decode()
    assert "cannot tell a person's own lead" in text and "95 %" in text
    assert main(["calibrate", "--show", "--json"]) == 0
    known = json.loads(capsys.readouterr().out)
    (name,) = set(known) - {THIS_COMPUTER}
    taps = known[name]["taps"]
    assert 10 <= taps["n"] <= 20 and taps["ci95_ms"][0] <= taps["delay_ms"] <= taps["ci95_ms"][1]
    assert taps["setup_ms"] == pytest.approx(taps["delay_ms"] + 25.0)
    assert main(["calibrate", "--show"]) == 0
    assert "that is taken out" in capsys.readouterr().out


def test_a_microphone_that_is_not_there_is_said(sound_server: SoundServer, capsys: pytest.CaptureFixture[str]) -> None:
    with sound_server.recording():
        assert main(["calibrate", "--microphone", "no such one", "--openings", "1"]) == 1
    assert "expected part of the name of a microphone, got 'no such one'" in capsys.readouterr().err
