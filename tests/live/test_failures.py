"""Whatever happens to the sound: one sentence on the screen, a paused take or a silent clock, and every onset kept.

A practice as the screen runs it, on the real audio process; only the screen itself is left away.
"""

from __future__ import annotations

import os
import signal
import subprocess
import time
from dataclasses import replace
from time import perf_counter
from typing import TYPE_CHECKING, TypeVar

import numpy as np
import pytest

from tempo_coach.coach.practising.conductor import Conductor
from tempo_coach.live.audio.engine import Engine
from tempo_coach.live.audio.silent import SilentClock
from tempo_coach.live.notices import Trouble
from tempo_coach.live.practice.session import Stage
from tempo_coach.music.files.sound import Sound
from tempo_coach.observe.take.take_file import read_take_file
from tempo_coach.reasons import Why
from tests.ui import fakes

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from pathlib import Path

    from tempo_coach.pattern.plan.plan import Plan
    from tests.live.sound_server import SoundServer

T = TypeVar("T")
#: Generous: nothing here depends on how fast the machine is, only on what happens at last.
AT_MOST = 40.0
PLAN = fakes.lay("clubs_mills", tempo_bpm=240, cycles=2)


def at_once(work: Callable[[], T], then: Callable[[T], None]) -> None:
    then(work())


class Practice:
    """A practice that has begun, its keys ``j`` and ``f``."""

    def __init__(
        self, engine: Engine, folder: Path, *, rate_hz: int = 48_000, plan: Plan = PLAN, sound: Sound | None = None
    ) -> None:
        silence = Sound(np.zeros((round((plan.duration + 0.5) * rate_hz), 2), np.float32), rate_hz)
        stage = fakes.Stage(plan, folder=folder, options={"keys": "jf", "at_once": True})
        context = replace(
            stage.context,
            make_player=lambda: engine,
            make_silent=SilentClock,
            sound_of=lambda _: (plan, sound or silence),
        )
        self.path = folder / "1.take.jsonl"
        self.conductor = Conductor(context, aside=at_once)

    def until(self, true: Callable[[], bool]) -> None:
        give_up = time.monotonic() + AT_MOST
        while not true():
            assert time.monotonic() < give_up, f"still {self.stage}: {self.sentence!r}"
            self.conductor.tick()
            time.sleep(0.02)

    def tap(self, keys: str) -> None:
        for key in keys:
            self.conductor.press(key, perf_counter())
            time.sleep(0.05)

    @property
    def stage(self) -> Stage:
        return self.conductor.session.stage

    @property
    def sentence(self) -> str:
        return self.conductor.picture().sentence

    @property
    def position(self) -> float:
        return self.conductor.session.position

    def lines(self) -> int:
        """Onsets that stand in the take's file."""
        return self.path.read_bytes().count(b'"stamp"')


@pytest.fixture
def engine(tmp_path: Path) -> Iterator[Engine]:
    (tmp_path / "cache").mkdir()
    engine = Engine(folder=tmp_path / "cache")
    yield engine
    engine.close()


@pytest.fixture
def heard(sound_server: SoundServer) -> Iterator[None]:
    # Nobody listening, a null sink fetches sound every two seconds only, which a real device never does.
    with sound_server.recording():
        yield


def unload_sink(server: SoundServer) -> None:
    """Take the device out of a server that goes on."""
    environment = {**os.environ, **server.environment}
    subprocess.run(["pactl", "unload-module", "module-null-sink"], env=environment, check=True)


DURING = {
    "server killed": lambda server, _: server.kill(),
    "server frozen": lambda server, _: server.signal(signal.SIGSTOP),
    "device gone": lambda server, _: unload_sink(server),
    "audio process killed": lambda _, engine: os.kill(engine.pid, signal.SIGKILL),
}


def is_one_sentence(text: str) -> bool:
    return text.endswith(".") and text.count(". ") <= 1 and "\n" not in text and "Traceback" not in text


@pytest.mark.parametrize("happens", DURING.values(), ids=DURING)
def test_a_take_whose_sound_fails_is_paused_with_a_sentence_and_every_onset_is_kept(
    happens: Callable[[SoundServer, Engine], None],
    sound_server: SoundServer,
    heard: None,
    engine: Engine,
    tmp_path: Path,
) -> None:
    practice = Practice(engine, tmp_path)
    practice.until(lambda: practice.stage is Stage.PLAYING and practice.position > 0.8)
    practice.tap("jfjf")
    before = [onset.stamp for onset in practice.conductor.session.onsets]
    happens(sound_server, engine)
    practice.until(lambda: practice.stage is Stage.PAUSED)
    assert engine.trouble in (Trouble.LOST, Trouble.FROZEN)
    assert is_one_sentence(practice.sentence) and "paused" in practice.sentence
    assert [onset.stamp for onset in practice.conductor.session.onsets][:4] == before
    assert practice.lines() >= 4
    practice.conductor.enter(perf_counter())
    (done,) = practice.conductor.takes.done
    times = [onset.time for onset in practice.conductor.session.onsets]
    assert np.isfinite(times[:4]).all() and np.all(np.diff(times[:4]) > 0.04)
    assert done.take.unmeasurable == tuple((gap.start, gap.end) for gap in engine.gaps)
    assert read_take_file(practice.path).ended == "enter"
    practice.conductor.leave()


def test_a_server_that_was_frozen_for_two_seconds_lets_the_take_go_on_to_its_end(
    sound_server: SoundServer, heard: None, engine: Engine, tmp_path: Path
) -> None:
    practice = Practice(engine, tmp_path)
    practice.until(lambda: practice.stage is Stage.PLAYING and practice.position > 0.8)
    practice.tap("jf")
    sound_server.signal(signal.SIGSTOP)
    frozen = time.monotonic()
    practice.until(lambda: practice.stage is Stage.PAUSED)
    assert is_one_sentence(practice.sentence)
    practice.until(lambda: time.monotonic() > frozen + 2.0)
    sound_server.signal(signal.SIGCONT)
    practice.until(lambda: practice.conductor.session.can_resume)
    assert "back" in practice.sentence
    practice.tap("j")
    practice.until(lambda: practice.stage is Stage.PLAYING)
    practice.tap("jf")
    practice.until(lambda: practice.stage is Stage.AFTER)
    (done,) = practice.conductor.takes.done
    assert len(practice.conductor.session.onsets) == 4
    assert len(done.take.unmeasurable) >= 1
    practice.conductor.leave()


def test_lost_sound_is_placed_and_what_was_done_in_it_is_never_scored(
    heard: None, engine: Engine, tmp_path: Path
) -> None:
    practice = Practice(engine, tmp_path)
    practice.until(lambda: practice.stage is Stage.PLAYING and practice.position > 0.8)
    assert engine.pid is not None
    # Longer than its buffer lasts, shorter than the watchdog's patience: sound is lost on every machine.
    os.kill(engine.pid, signal.SIGSTOP)
    time.sleep(0.25)
    practice.tap("jf")
    os.kill(engine.pid, signal.SIGCONT)
    practice.until(lambda: bool(engine.gaps) or practice.stage is not Stage.PLAYING)
    if practice.stage is not Stage.PLAYING:
        pytest.skip("the machine stood still for longer than the watchdog waits")
    practice.tap("jf")
    practice.until(lambda: practice.stage in (Stage.AFTER, Stage.PAUSED))
    if practice.stage is Stage.PAUSED:
        pytest.skip("the machine lost the sound altogether")
    (done,) = practice.conductor.takes.done
    assert len(practice.conductor.session.onsets) == 4 and practice.lines() == 4
    assert done.take.unmeasurable == tuple((gap.start, gap.end) for gap in engine.gaps) != ()
    outside = [t for t in done.take.onsets.time.tolist() if all(not a <= t <= b for a, b in done.take.unmeasurable)]
    found = int(np.isfinite(done.card.asynchrony).sum())
    assert found + len(done.card.extra_time) <= len(outside)
    inside = [t for t in PLAN.moments.time.tolist() if any(a <= t <= b for a, b in done.take.unmeasurable)]
    if inside:
        note = done.card.notes["unmeasurable"]
        assert note.code is Why.NOT_MEASURABLE and int(str(note.args[0])) >= len(inside)
    practice.conductor.leave()


def refuse_channels(server: SoundServer, patch: pytest.MonkeyPatch, folder: Path) -> None:
    """More channels than the device has are asked for: the refusal is the sound library's own."""
    (folder / "sitecustomize.py").write_text(
        "import sounddevice\n"
        "real = sounddevice.RawOutputStream.__init__\n"
        "def ask(self, **options): real(self, **{**options, 'channels': 1000})\n"
        "sounddevice.RawOutputStream.__init__ = ask\n"
    )
    patch.setenv("PYTHONPATH", str(folder))


def take_the_library_away(server: SoundServer, patch: pytest.MonkeyPatch, folder: Path) -> None:
    (folder / "sounddevice.py").write_text("raise OSError('PortAudio library not found')")
    patch.setenv("PYTHONPATH", str(folder))


def take_the_server_away(server: SoundServer, patch: pytest.MonkeyPatch, folder: Path) -> None:
    server.kill()


def take_the_folder_away(server: SoundServer, patch: pytest.MonkeyPatch, folder: Path) -> None:
    (folder / "cache").rmdir()


BEFORE = {
    "no library": (take_the_library_away, {Trouble.NO_LIBRARY}, 48_000),
    "no device": (take_the_server_away, {Trouble.NO_DEVICE, Trouble.NOT_OPENED}, 48_000),
    "channels refused": (refuse_channels, {Trouble.REFUSED}, 48_000),
    "rate refused": (lambda *_: None, {Trouble.REFUSED}, 700_000),
    "no room": (take_the_folder_away, {Trouble.NO_ROOM}, 48_000),
}


@pytest.mark.parametrize("case", BEFORE.values(), ids=BEFORE)
def test_a_take_that_never_had_sound_says_why_and_runs_on_the_silent_clock(
    case: tuple[Callable[..., None], set[Trouble], int],
    sound_server: SoundServer,
    engine: Engine,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    prepare, troubles, rate_hz = case
    prepare(sound_server, monkeypatch, tmp_path)
    told: list[Trouble | None] = []
    poll = engine.poll

    def listen() -> list[object]:
        news = poll()
        told.extend(each.trouble for each in news)
        return news

    monkeypatch.setattr(engine, "poll", listen)
    practice = Practice(engine, tmp_path, rate_hz=rate_hz)
    practice.until(lambda: practice.stage is Stage.PLAYING)
    assert {trouble for trouble in told if trouble} <= troubles and any(told), "the engine tells it as news"
    assert practice.sentence.startswith("No sound: ") and "silent clock" in practice.sentence
    assert ("libportaudio2" in practice.sentence) is (troubles == {Trouble.NO_LIBRARY})
    assert is_one_sentence(practice.sentence)
    practice.tap("jf")
    practice.conductor.enter(perf_counter() + 1.0)
    assert practice.lines() == 2
    practice.conductor.leave()
