"""A device that plays at another rate than it was asked for, from some moment on: the take stops, with a sentence."""

from __future__ import annotations

import time
from typing import TYPE_CHECKING

import numpy as np
import pytest

from tempo_coach.live.audio.engine import Engine
from tempo_coach.live.audio.playback import News, NewsKind, State
from tempo_coach.live.notices import Notice, Trouble
from tests.live.forwarder import RATE_HZ, forwarding

if TYPE_CHECKING:
    from pathlib import Path

    from tests.live.sound_server import SoundServer

#: Every sample tells its own number: float32 holds whole numbers up to 2^24 exactly.
STEP = 2.0**-23
SECONDS, CHANGES, AT_MOST = 16.0, 7.0, 40.0


def play(engine: Engine) -> tuple[list[News], list[float]]:
    """Play until it stops by itself; what was told, and stamps at which somebody could have tapped."""
    engine.start(((np.arange(round(SECONDS * RATE_HZ)) + 1) * STEP).astype(np.float32), RATE_HZ)
    news, stamps, give_up = list[News](), list[float](), time.monotonic() + AT_MOST
    while engine.state not in (State.FINISHED, State.PAUSED):
        assert time.monotonic() < give_up, f"still {engine.state}"
        news += engine.poll()
        stamps.append(time.perf_counter())
        time.sleep(0.02)
    return news, stamps


@pytest.mark.parametrize("after_hz", [44_100, 96_000])
def test_a_device_that_changes_its_rate_in_mid_take_stops_it_and_nothing_since_is_judged(
    sound_server: SoundServer, tmp_path: Path, after_hz: int
) -> None:
    engine = Engine(folder=tmp_path)
    with forwarding(sound_server, changes=CHANGES, after_hz=after_hz) as forwarded:
        news, stamps = play(engine)
        assert engine.state is State.PAUSED and news[-1].kind is NewsKind.PAUSED
        assert news[-1].notice == Notice(Trouble.OTHER_RATE, (RATE_HZ, after_hz))
        taps = np.array(stamps)
        times = np.array([engine.take_time(each) for each in stamps])
        heard = forwarded.value_at(taps) / STEP / RATE_HZ
        judged = np.array([engine.measurable(each) for each in times]) & (heard > 0.05)
        changed = forwarded.began() + CHANGES
        engine.close()
    assert not judged[taps > changed + 0.3].any(), "the pipe and the server's buffer hold a little of what was before"
    assert judged[taps < changed - 1.0].mean() > 0.5
    off = (times - heard)[judged]
    assert np.median(np.abs(off - np.median(off))) < 0.002, "a starved pipe lets blocks come late"
