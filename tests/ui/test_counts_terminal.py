"""A routine of 90 s with a slowing, a pause and a cut, set right by keys alone in a real terminal."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest

from tempo_coach import coach
from tempo_coach.music.files.sound_file import write_sound
from tempo_coach.pattern.routine.rules import DEFAULT_CODE, read_code
from tests.ui.cut_music import BRIDGE, EIGHTS, INTRODUCTION, compose

pytest.importorskip("pty", reason="this system has no pseudo-terminals")

from tests.ui.test_terminal import Terminal

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

RIGHT, LEFT, END_OF_ALL, SAVE, LEAVE = "\x1b[C", "\x1b[D", "\x1b[1;5F", "\x13", "\x11"
#: The beats that a finder gave for it: every second one, and one too many before the pause's end. They are handed over
#: as they were, because a better finder would leave nothing to put right.
TOO_MANY = 30.831
#: What a coach presses, and why.
SCRIPT: tuple[tuple[str, str], ...] = (
    ("d", "counted twice as fast"),
    (RIGHT * INTRODUCTION + "f", "the introduction is not counted"),
    ("n", "to the pause"),
    (RIGHT + "LLll", "the last count before it comes later: the music slows"),
    ("m" + RIGHT * 3 + "p", "the pause from here to the first count of the drum"),
    ("n" + "c", "to the cut, and cut it"),
    (LEFT + "EE", "the last count of the bridge is earlier"),
    (END_OF_ALL + "aF", "one count more, the last movement"),
    (SAVE, "saved"),
)
#: A coach has a minute; two keys a second are unhurried.
MOST_KEYS = 120


def presses(text: str) -> list[str]:
    """The keys of a text, arrows as one each."""
    found: list[str] = []
    while text:
        length = next((len(key) for key in (RIGHT, LEFT, END_OF_ALL) if text.startswith(key)), 1)
        found.append(text[:length])
        text = text[length:]
    return found


@pytest.fixture
def terminal(tmp_path: Path) -> Iterator[Terminal]:
    music = compose()
    write_sound(tmp_path / "cut.flac", music.sound)
    beats = np.sort(np.append(music.counts.beats[::2], TOO_MANY))
    (tmp_path / "found.txt").write_text("".join(f"{beat:.4f}\n" for beat in beats))
    options = ("--known", str(tmp_path / "found.txt"), "--device", "none")
    opened = Terminal("counts", str(tmp_path / "cut.flac"), *options, XDG_DATA_HOME=str(tmp_path))
    yield opened
    opened.kill()


def test_a_routine_with_a_slowing_a_pause_and_a_cut_is_set_right_by_keys_alone(
    terminal: Terminal, tmp_path: Path
) -> None:
    terminal.wait_for(lambda: b"NOT SAVED" in terminal.drawn)
    keys = [key for text, _ in SCRIPT for key in presses(text)]
    for key in keys:
        terminal.press(key.encode())
        terminal.read(0.06)
    terminal.wait_for(lambda: b"Saved in" in terminal.drawn)
    terminal.press(LEAVE.encode())
    assert terminal.end() == 0
    assert len(keys) == 26 < MOST_KEYS

    truth = compose().counts
    opened = coach.open_routine(tmp_path / "cut.toml")
    assert opened.said == ()
    np.testing.assert_allclose(opened.counts.beats, truth.beats, atol=0.03)
    eights = sum(EIGHTS) + 1
    assert opened.counts.eights[:eights] == truth.eights[:eights]
    assert [length for _, length in truth.eights].count(BRIDGE) == 1
    ((begin, end),) = opened.counts.pauses
    assert end == pytest.approx(truth.pauses[0][1], abs=0.03)
    assert truth.pauses[0][0] - 0.2 < begin < truth.pauses[0][0] + 0.2

    findings = coach.check_rules(opened, read_code(DEFAULT_CODE))
    assert findings[0].seconds == pytest.approx(float(truth.beats[-1] - truth.beats[INTRODUCTION]), abs=0.05)
