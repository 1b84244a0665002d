"""The first start on a machine that has seen nothing of the program: two keys, and a drill is heard."""

from __future__ import annotations

import time
from typing import TYPE_CHECKING

import numpy as np

from tempo_coach.observe.take.take_file import read_take
from tempo_coach.observe.take.unfinished import find_unfinished
from tests.live.test_practise_heard import find_clicks
from tests.ui.test_terminal import Terminal

if TYPE_CHECKING:
    from pathlib import Path

    from tests.live.sound_server import SoundServer


def test_enter_enter_and_a_drill_is_heard(sound_server: SoundServer, tmp_path: Path) -> None:
    home = tmp_path / "home"
    home.mkdir()
    folders = dict.fromkeys(("HOME", "XDG_DATA_HOME", "XDG_CACHE_HOME"), str(home))
    with sound_server.recording() as recording:
        terminal = Terminal(**folders, TEMPO_COACH_HISTORY=str(home / "history.sqlite"))
        try:
            terminal.wait_for(lambda: b" start" in terminal.drawn)
            terminal.press(b"\r")
            terminal.wait_for(lambda: b" usual keys, and start" in terminal.drawn)
            terminal.press(b"\r")
            terminal.wait_for(lambda: b" end the take" in terminal.drawn)
            end = time.monotonic() + 30
            while np.count_nonzero(np.abs(recording.samples()) > 0.05) == 0 and time.monotonic() < end:
                terminal.read(0.2)
            terminal.read(4.5)  # the second half of the lead-in, and two circles
            terminal.press(b"\x11")
            assert terminal.end() == 0
        finally:
            terminal.kill()
    samples = recording.samples()
    assert np.abs(samples).max() > 0.05, "nothing was heard"
    assert len(find_clicks(samples[:, 1])) >= 2, "no cue of the first hand was heard"
    (take,) = find_unfinished(home / "tempo_coach" / "takes")
    assert read_take(take).plan.drill == "clubs_mills"
