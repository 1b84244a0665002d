"""The practise screen in a real pseudo-terminal with real sound, recorded by a program that is not ours."""

from __future__ import annotations

import json
import time
from typing import TYPE_CHECKING

import numpy as np
import pytest

from tempo_coach.live.mixing.mix import load_cue_sounds
from tempo_coach.music.files.sound_file import read_sound
from tests import HANG
from tests.ui.test_terminal import Terminal

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from pathlib import Path

    from tempo_coach.times import Floats
    from tests.live.sound_server import SoundServer

RATE = 48_000
#: One circle a count, 120 counts a minute: a cue of one sound every half second.
DRILL = """\
title = "One circle a count"
apparatus = "none"
[cycle]
counts = 1
[[phase]]
name = "circle"
start = "1"
end = "2"
circles = 1
[[hand]]
name = "right"
"""
CYCLES = 16


@pytest.fixture
def open_terminal(tmp_path: Path) -> Iterator[Callable[..., Terminal]]:
    opened: list[Terminal] = []

    def open_one(*arguments: str) -> Terminal:
        opened.append(Terminal(*arguments, XDG_DATA_HOME=str(tmp_path), XDG_CACHE_HOME=str(tmp_path)))
        return opened[-1]

    yield open_one
    for terminal in opened:
        terminal.kill()


def find_clicks(samples: np.ndarray) -> np.ndarray:
    """Places of the first hand's cue in a recording, to the sample, by correlation with the cue itself."""
    from scipy.signal import correlate, find_peaks

    wave = load_cue_sounds(RATE)["first_hand"].samples[:, 0].astype(np.float64)
    likeness = correlate(samples.astype(np.float64), wave, mode="valid")
    return find_peaks(likeness, height=0.6 * likeness.max(), distance=RATE // 8)[0]


def test_cues_are_24000_samples_apart_while_the_screen_repaints_and_the_microphone_lies_on_the_takes_clock(
    sound_server: SoundServer, open_terminal: Callable[..., Terminal], tmp_path: Path
) -> None:
    """The microphone is the monitor: it hears the cues, which lie in the take at known places."""
    drill, take = tmp_path / "each_count.toml", tmp_path / "x.take.jsonl"
    drill.write_text(DRILL)
    options = ("--tempo", "120", "--cycles", str(CYCLES), "--now", "--keys", "j", "--record", "--take", str(take))
    with sound_server.recording() as recording:
        terminal = open_terminal("practise", str(drill), *options)
        terminal.wait_for(lambda: b"next in" in terminal.drawn)
        drawn_before = len(terminal.drawn)
        end = time.monotonic() + HANG
        while b" again" not in terminal.drawn and time.monotonic() < end:
            terminal.press(b"j")
            terminal.read(0.5)
        assert len(terminal.drawn) > drawn_before + 500 * CYCLES / 2  # it repainted all the while
        terminal.press(b"\x11")
        assert terminal.end() == 0
    rows = [json.loads(line) for line in take.read_text().splitlines()]
    gaps = [row["gap"] for row in rows if "gap" in row]
    places = find_clicks(recording.samples()[:, 1])
    moments = np.array([row["time"] for row in rows[0]["plan"]["moments"]])
    assert len(moments) == CYCLES
    wrong = np.flatnonzero(np.abs(np.diff(places) - RATE // 2) > 1)
    # whatever was heard wrong was reported: there are no more wrong steps than reported gaps
    assert len(wrong) <= len(gaps), f"steps {np.diff(places)[wrong]} between clicks, reported {gaps}"
    sound = read_sound(tmp_path / "x.wav")
    assert sound.rate_hz == RATE and sound.channels == 1
    if not gaps:
        assert len(places) == CYCLES
        places = find_clicks(sound.samples[:, 0])
        assert places.size == CYCLES
        np.testing.assert_allclose(places / RATE, moments, atol=0.001)


def test_40_presses_through_a_pseudo_terminal_are_all_taken(
    open_terminal: Callable[..., Terminal], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    take = tmp_path / "x.take.jsonl"
    options = ("--tempo", "240", "--cycles", "60", "--device", "none", "--now", "--keys", "jf", "--take", str(take))
    terminal = open_terminal("practise", "clubs_mills", *options)
    terminal.wait_for(lambda: b"next in" in terminal.drawn)
    pressed = []
    for k in range(40):
        pressed.append(time.monotonic())
        terminal.press(b"jf"[k % 2 : k % 2 + 1])
        terminal.read(0.1)

    def read_stamps() -> Floats:
        whole, _, _ = take.read_text().rpartition("\n")  # while it is written
        rows = [json.loads(line) for line in whole.splitlines()]
        return np.array([row["time"] for row in rows if "hand" in row])

    terminal.wait_for(lambda: read_stamps().size == 40)
    stamped = read_stamps()
    # the take clock has another origin: what the way to the stamp adds is what changes between presses
    late = 1000 * (stamped - np.array(pressed))
    late -= late.min()
    with capsys.disabled():
        median, high = np.percentile(late, [50, 95])
        print(f"\n40 presses: stamped {median:.2f} ms (median), {high:.2f} ms (95 %) after the quickest one")
