"""A clap is told from what is no clap, heard through a microphone, and begins a practice."""

from __future__ import annotations

import subprocess
import time
from typing import TYPE_CHECKING

import numpy as np
import pytest

from tempo_coach.coach.practising.conductor import Conductor
from tempo_coach.live.inputs.clap import ClapFinder
from tempo_coach.live.inputs.clap_listener import ClapListener
from tempo_coach.live.notices import Code, Notice
from tempo_coach.live.practice.session import Stage
from tempo_coach.music.files.sound import Sound
from tempo_coach.music.files.sound_file import write_sound
from tests.generators import contacts
from tests.ui import fakes

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from tests.live.sound_server import SoundServer

RATE_HZ = contacts.RATE_HZ


def with_at(
    strike: np.ndarray, *times: float, loud: float = 0.3, hiss: float = 3e-4, seconds: float = 6.0
) -> np.ndarray:
    wave = hiss * np.random.default_rng(1).normal(size=round(seconds * RATE_HZ))
    for at in times:
        part = wave[round(at * RATE_HZ) :][: len(strike)]
        part += loud * strike[: len(part)]
    return wave


def heard_at(wave: np.ndarray, *, block: int = 320) -> list[float]:
    finder = ClapFinder(RATE_HZ)
    return [k / RATE_HZ for k in range(0, len(wave), block) if finder.feed(wave[k : k + block])]


@pytest.mark.parametrize("block", [97, 320, 4800])
@pytest.mark.parametrize("seed", range(5))
def test_claps_are_heard_soon_after_they_are_over(seed: int, block: int) -> None:
    wave = with_at(contacts.clap(np.random.default_rng(seed)), 1.0, 3.0)
    heard = heard_at(wave, block=block)
    assert len(heard) == 2
    assert all(0 <= found - at < 0.2 for found, at in zip(heard, (1.0, 3.0), strict=True))


def test_a_hall_and_a_loud_room_hide_no_clap() -> None:
    strike = contacts._through_room(
        contacts.clap(np.random.default_rng(3)), np.random.default_rng(4), 1.2, wet_share=0.3
    )
    assert len(heard_at(with_at(strike, 2.0, hiss=3e-3))) == 1


@pytest.mark.parametrize(
    "wave",
    [
        np.zeros(5 * RATE_HZ),
        with_at(np.zeros(1)),
        with_at(0.3 * np.sin(2 * np.pi * 880 * np.arange(2 * RATE_HZ) / RATE_HZ), 1.0, loud=1.0),
        with_at(0.1 * np.random.default_rng(2).normal(size=2 * RATE_HZ), 1.0, loud=1.0),
        with_at(contacts.clap(np.random.default_rng(0)), 1.0, loud=0.004),
    ],
    ids=["silence", "hiss", "a note that begins", "noise that begins", "a clap far away"],
)
def test_what_is_no_clap_begins_nothing(wave: np.ndarray) -> None:
    assert heard_at(wave) == []


def until(listener: ClapListener, true: Callable[[], bool], at_most: float = 20.0) -> None:
    give_up = time.monotonic() + at_most
    while not true():
        assert time.monotonic() < give_up, f"nothing came of it; {listener.trouble!r}"
        time.sleep(0.02)


def test_a_clap_is_heard_by_a_process_that_ends_with_it(sound_server: SoundServer, tmp_path: Path) -> None:
    wave = with_at(contacts.clap(np.random.default_rng(0)), *np.arange(1.0, 18.0, 1.5), seconds=18.0, hiss=0.0)
    write_sound(tmp_path / "claps.wav", Sound(wave[:, None].astype(np.float32), RATE_HZ))
    listener = ClapListener()
    playing = subprocess.Popen(["paplay", str(tmp_path / "claps.wav")])
    try:
        until(listener, listener.heard)
        assert listener.trouble is None
    finally:
        listener.close()
        playing.kill()
        playing.wait()


def test_whoever_waits_no_more_lets_the_microphone_go(sound_server: SoundServer) -> None:
    listener = ClapListener()
    assert not listener.heard()
    listener.close()
    assert listener._process.returncode is not None


def test_a_microphone_that_is_not_there_is_said(sound_server: SoundServer) -> None:
    listener = ClapListener("no such microphone")
    until(listener, lambda: listener.heard() or listener.trouble is not None)
    assert listener.trouble is not None and listener.trouble.code is Code.CLAP_REFUSED
    assert "no such microphone" in str(listener.trouble.arguments[0])
    listener.close()


class Fake:
    def __init__(self) -> None:
        self.trouble: Notice | None = None
        self.clapped, self.closed = False, 0

    def heard(self) -> bool:
        return self.clapped

    def close(self) -> None:
        self.closed += 1


def begun_with(fake: Fake) -> tuple[fakes.Stage, Conductor]:
    stage = fakes.Stage(fakes.lay("clubs_mills"), options={"keys": "jf", "wait_for_clap": lambda: fake})
    conductor = Conductor(stage.context, aside=lambda work, then: then(work()), clock=stage.clock)
    conductor.tick()
    return stage, conductor


def test_a_practice_begins_with_a_clap() -> None:
    fake = Fake()
    _, conductor = begun_with(fake)
    assert conductor.session.stage is Stage.WAITING and "Clap to begin" in conductor.picture().sentence
    fake.clapped = True
    conductor.tick()
    assert conductor.session.stage is not Stage.WAITING and fake.closed == 1
    conductor.leave()
    assert fake.closed == 1


def test_where_no_clap_can_be_heard_enter_begins() -> None:
    fake = Fake()
    stage, conductor = begun_with(fake)
    fake.trouble = Notice(Code.CLAP_REFUSED, ("the microphone is gone",))
    conductor.tick()
    assert "the microphone is gone" in conductor.picture().sentence and fake.closed == 1
    conductor.tick()
    conductor.enter(stage.clock.now)
    assert conductor.session.stage is not Stage.WAITING


def test_enter_begins_too_and_leaving_lets_the_microphone_go() -> None:
    first, second = Fake(), Fake()
    stage, conductor = begun_with(first)
    conductor.enter(stage.clock.now)
    conductor.tick()
    assert first.closed == 1
    _, other = begun_with(second)
    other.leave()
    assert second.closed == 1
