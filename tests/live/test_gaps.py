"""Sound that is lost is reported: numbered samples, played on the null sink and read back by an independent recorder.

The recorder hears which sample is played in each frame, so nothing here has to be judged by time.
"""

from __future__ import annotations

import os
import signal
import time
from typing import TYPE_CHECKING

import numpy as np
import pytest

from tempo_coach.live.audio.engine import Engine
from tempo_coach.live.audio.playback import News, NewsKind, State
from tempo_coach.live.notices import Code, Notice, Trouble

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from pathlib import Path

    from tests.live.sound_server import SoundServer

RATE = 48_000
#: Every sample says its own number: float32 holds whole numbers up to 2^24 exactly, and the null sink keeps them.
STEP = 2.0**-23
AT_MOST = 60.0


def numbered(seconds: float) -> np.ndarray:
    return ((np.arange(round(seconds * RATE)) + 1) * STEP).astype(np.float32)


def heard_numbers(samples: np.ndarray) -> np.ndarray:
    """Return which sample was heard in each frame from the first to the last, -1 for silence between."""
    numbers = np.round(samples[:, 0].astype(np.float64) / STEP).astype(np.int64) - 1
    sounding = np.flatnonzero(numbers >= 0)
    return numbers[sounding[0] : sounding[-1] + 1]


@pytest.fixture
def engine(tmp_path: Path) -> Iterator[Engine]:
    engine = Engine(folder=tmp_path)
    yield engine
    engine.close()
    assert list(tmp_path.iterdir()) == [], "what the engine wrote for itself is gone with it"


def play(engine: Engine, until: Callable[[], bool]) -> list[News]:
    news: list[News] = []
    give_up = time.monotonic() + AT_MOST
    while not until():
        assert time.monotonic() < give_up, f"still {engine.state}, {engine.notice!r}, after {news}"
        news += engine.poll()
        time.sleep(0.02)
    return news


def never_reported(heard: np.ndarray, engine: Engine) -> list[float]:
    """Return the take times beside a break in what was heard that the engine calls measurable."""
    broken = np.flatnonzero(np.diff(heard) != 1)
    beside = np.concatenate([heard[broken], heard[broken + 1]])
    return [float(number) / RATE for number in beside if number >= 0 and engine.measurable(number / RATE)]


def test_every_sample_is_heard_once_in_order_from_the_first(sound_server: SoundServer, engine: Engine):
    with sound_server.recording() as recording:
        engine.start(numbered(2.0), RATE)
        assert engine.position() == -0.5
        play(engine, lambda: engine.state is State.FINISHED)
        recording.wait_for_frames(recording.frames() + RATE // 2)
        gaps = engine.gaps
        heard = heard_numbers(recording.samples())
    assert engine.take_time(time.perf_counter()) > 1.9
    assert gaps or np.array_equal(heard, np.arange(2 * RATE))
    assert never_reported(heard, engine) == []


def test_every_gap_that_is_heard_is_reported_and_not_measured(sound_server: SoundServer, engine: Engine):
    with sound_server.recording() as recording:
        engine.start(numbered(3.0), RATE)
        news = play(engine, lambda: engine.position() >= 1.2)  # a busy machine may lose sound by itself
        assert engine.pid is not None
        # Longer than its buffer lasts, shorter than the watchdog's patience: sound is lost on every machine.
        os.kill(engine.pid, signal.SIGSTOP)
        time.sleep(0.35)
        os.kill(engine.pid, signal.SIGCONT)
        news += play(engine, lambda: engine.state is not State.PLAYING)
        if engine.state is State.PAUSED:
            pytest.skip("the machine stood still for longer than the watchdog waits")
        recording.wait_for_frames(recording.frames() + RATE // 2)
        news += engine.poll()
        engine.stop()
    heard = heard_numbers(recording.samples())
    assert (np.diff(heard) != 1).any(), "holding the process was meant to lose sound"
    assert never_reported(heard, engine) == []
    gaps = [one for one in news if one.kind is NewsKind.GAP]
    assert [one.gap for one in gaps] == list(engine.gaps)
    assert all(one.notice == Notice(Code.GAP) for one in gaps)
    assert engine.measurable(0.7) or any(gap.start <= 0.7 <= gap.end for gap in engine.gaps)


def test_a_take_goes_on_from_the_sample_at_which_the_server_was_killed(sound_server: SoundServer, engine: Engine):
    with sound_server.recording():
        engine.start(numbered(3.0), RATE)
        play(engine, lambda: engine.position() >= 1.2)
        stamp, before = time.perf_counter(), engine.position()
        sound_server.kill()
        play(engine, lambda: engine.state is State.PAUSED)
    assert engine.trouble in (Trouble.LOST, Trouble.FROZEN)
    stood = engine.position()
    assert 1.0 < stood < 3.0
    assert stood == engine.position(), "the take clock stands still in a pause"
    assert np.isnan(engine.take_time(time.perf_counter()))
    with pytest.raises(ValueError, match="sound is back"):
        engine.resume()
    sound_server.start()
    play(engine, lambda: engine.can_resume)
    with sound_server.recording() as recording:
        engine.resume()
        play(engine, lambda: engine.state is State.FINISHED)
        recording.wait_for_frames(recording.frames() + RATE // 2)
    assert heard_numbers(recording.samples())[0] == pytest.approx(stood * RATE, abs=1)
    assert not engine.measurable(stood)
    lost = any(gap.start <= before < gap.end for gap in engine.gaps)  # a busy machine may have lost sound just there
    assert engine.measurable(before) is not lost
    assert lost or engine.take_time(stamp) == pytest.approx(before, abs=0.05), "what was done is still when it was"


def test_the_audio_process_ends_when_the_program_is_gone(sound_server: SoundServer, engine: Engine):
    with sound_server.recording():
        engine.start(numbered(60.0), RATE)
        play(engine, lambda: engine.state is State.PLAYING)
        assert engine._process is not None
        assert engine._process.popen.stdin is not None
        engine._process.popen.stdin.close()  # as the system does for a program that was killed
        engine._process.popen.wait(timeout=AT_MOST)
        play(engine, lambda: engine.state is State.PAUSED)
