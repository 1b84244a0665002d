"""The audio process on a real server: what is heard, and what is said when something goes wrong."""

from __future__ import annotations

import os
import signal
import time
from typing import TYPE_CHECKING

import numpy as np
import pytest

from tempo_coach.live.engine import Engine
from tempo_coach.live.playing import Kind, News, State, Trouble

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
        assert time.monotonic() < give_up, f"it never came to that: {news}, {engine.state}, {engine.sentence}"
        news += engine.poll()
        time.sleep(0.02)
    return news


def kinds(news: list[News]) -> set[Kind]:
    return {each.kind for each in news}


def test_a_click_is_heard_every_24000_samples_and_the_take_finishes(sound_server: SoundServer, engine: Engine) -> None:
    with sound_server.recording() as recording:
        engine.start(clicks(3.0), RATE)
        news = poll_until(engine, lambda news: Kind.FINISHED in kinds(news))
        time.sleep(0.3)
    heard = np.flatnonzero(np.abs(recording.samples()[:, 0]) > 0.4)
    assert Kind.PLAYING in kinds(news)
    if not engine.gaps:
        assert np.diff(heard).tolist() == [24_000] * 4
    assert engine.take_time(time.perf_counter()) > 2.9


def test_a_stamp_is_turned_into_the_take_time_that_was_heard(engine: Engine) -> None:
    engine.start(clicks(4.0), RATE)
    poll_until(engine, lambda _: engine.state is State.PLAYING and engine.position() > 2.0)
    stamp = time.perf_counter()
    assert engine.take_time(stamp) == pytest.approx(engine.position(), abs=0.2)
    # half a second of the stamps is half a second of the take, whatever the latency
    assert engine.take_time(stamp) - engine.take_time(stamp - 0.5) == pytest.approx(0.5, abs=0.01)


def test_a_killed_server_pauses_the_take_and_it_goes_on_when_the_server_is_back(
    sound_server: SoundServer, engine: Engine
) -> None:
    engine.start(clicks(5.0), RATE)
    poll_until(engine, lambda _: engine.state is State.PLAYING and engine.position() > 1.0)
    sound_server.kill()
    news = poll_until(engine, lambda news: Kind.PAUSED in kinds(news))
    assert engine.state is State.PAUSED
    assert engine.trouble in (Trouble.LOST, Trouble.FROZEN)
    assert "paused" in engine.sentence and "\n" not in engine.sentence
    stood = engine.position()
    assert 0.5 < stood < 5.0
    assert not engine.measurable(stood)
    assert news[-1].sentence == engine.sentence
    sound_server.start()
    with sound_server.recording():
        poll_until(engine, lambda news: Kind.BACK in kinds(news))
        assert engine.can_resume
        engine.resume()
        poll_until(engine, lambda news: Kind.FINISHED in kinds(news))


def test_a_frozen_server_pauses_the_take(sound_server: SoundServer, engine: Engine) -> None:
    engine.start(clicks(8.0), RATE)
    poll_until(engine, lambda _: engine.state is State.PLAYING and engine.position() > 0.5)
    sound_server.signal(signal.SIGSTOP)
    news = poll_until(engine, lambda news: Kind.PAUSED in kinds(news))
    assert engine.trouble in (Trouble.FROZEN, Trouble.LOST)
    time.sleep(2.0)
    sound_server.signal(signal.SIGCONT)
    assert all(each.sentence for each in news if each.kind is Kind.PAUSED)
    assert engine.gaps


def test_no_device_is_said(sound_server: SoundServer, engine: Engine) -> None:
    sound_server.kill()
    engine.start(clicks(1.0), RATE)
    poll_until(engine, lambda news: Kind.PAUSED in kinds(news))
    assert engine.trouble in (Trouble.NO_DEVICE, Trouble.NOT_OPENED, Trouble.REFUSED)
    assert engine.sentence.startswith("No sound")


def test_a_device_of_another_name_is_said(sound_server: SoundServer, tmp_path: Path) -> None:
    engine = Engine(device="no such loudspeaker", folder=tmp_path)
    engine.start(clicks(1.0), RATE)
    poll_until(engine, lambda news: Kind.PAUSED in kinds(news))
    assert engine.trouble is Trouble.NO_DEVICE
    engine.close()


def test_a_missing_sound_library_is_said(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "sounddevice.py").write_text("raise OSError('PortAudio library not found')")
    monkeypatch.setenv("PYTHONPATH", str(tmp_path))
    engine = Engine(folder=tmp_path)
    engine.start(clicks(1.0), RATE)
    poll_until(engine, lambda news: Kind.PAUSED in kinds(news))
    assert engine.trouble is Trouble.NO_LIBRARY
    assert "libportaudio2" in engine.sentence
    engine.close()


def test_a_refused_rate_is_said(engine: Engine) -> None:
    engine.start(np.zeros(1000, np.float32), 3)
    poll_until(engine, lambda news: Kind.PAUSED in kinds(news))
    assert engine.trouble in (Trouble.REFUSED, Trouble.NOT_OPENED, Trouble.NO_DEVICE)
    assert engine.sentence.startswith("No sound")


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
