"""The audio process on a real server: its clock, its devices, and that nothing of it stays.

What is heard is told in ``test_gaps``, what is said when something goes wrong in ``test_failures``.
"""

from __future__ import annotations

import os
import time
from typing import TYPE_CHECKING

import numpy as np
import pytest

from tempo_coach.live.audio.engine import Engine
from tempo_coach.live.audio.playback import News, NewsKind, State
from tempo_coach.live.notices import Trouble

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from pathlib import Path

    from tests.live.sound_server import SoundServer

RATE = 48_000
#: Generous: nothing here depends on how fast the machine is, only on what happens at last.
AT_MOST = 40.0


def clicks(seconds: float) -> np.ndarray:
    """A sample of 0.9 every half second, from the first one on."""
    samples = np.zeros(round(seconds * RATE), np.float32)
    samples[RATE // 2 :: RATE // 2] = 0.9
    return samples


@pytest.fixture
def engine(sound_server: SoundServer, tmp_path: Path) -> Iterator[Engine]:
    # Nobody listening, a null sink fetches sound every two seconds only, which a real device never does.
    with sound_server.recording():
        engine = Engine(folder=tmp_path)
        yield engine
        engine.close()


def poll_until(engine: Engine, true: Callable[[list[News]], bool]) -> list[News]:
    """Poll until it is so; return all the news."""
    news: list[News] = []
    give_up = time.monotonic() + AT_MOST
    while not true(news):
        assert time.monotonic() < give_up, f"it never came to that: {news}, {engine.state}, {engine.notice}"
        news += engine.poll()
        time.sleep(0.02)
    return news


def kinds(news: list[News]) -> set[NewsKind]:
    return {each.kind for each in news}


def test_a_stamp_is_turned_into_the_take_time_that_was_heard(engine: Engine) -> None:
    engine.start(clicks(3.0), RATE)
    poll_until(engine, lambda _: engine.state is State.PLAYING and engine.position() > 1.0)
    stamp = time.perf_counter()
    assert engine.take_time(stamp) == pytest.approx(engine.position(), abs=0.2)
    # half a second of the stamps is half a second of the take, whatever the latency
    assert engine.take_time(stamp) - engine.take_time(stamp - 0.5) == pytest.approx(0.5, abs=0.01)


def test_a_device_of_another_name_is_said(sound_server: SoundServer, tmp_path: Path) -> None:
    engine = Engine(device="no such loudspeaker", folder=tmp_path)
    engine.start(clicks(1.0), RATE)
    poll_until(engine, lambda news: NewsKind.PAUSED in kinds(news))
    assert engine.trouble is Trouble.NO_DEVICE
    engine.close()


def test_nothing_is_left_behind(sound_server: SoundServer, tmp_path: Path) -> None:
    engine = Engine(folder=tmp_path)
    engine.start(clicks(1.0), RATE)
    poll_until(engine, lambda _: engine.state is State.PLAYING)
    pid = engine.pid
    engine.close()
    assert list(tmp_path.glob("take-*")) == []
    assert pid is not None
    with pytest.raises(ProcessLookupError):
        os.kill(pid, 0)


@pytest.mark.parametrize("samples", [np.zeros((10, 3), np.float32), np.zeros((2, 2, 2), np.float32)])
def test_samples_of_another_shape_are_a_callers_bug(samples: np.ndarray, tmp_path: Path) -> None:
    engine = Engine(folder=tmp_path)
    with pytest.raises(ValueError, match="shape"):
        engine.start(samples, RATE)
    engine.close()
