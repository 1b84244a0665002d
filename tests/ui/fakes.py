"""A clock that stands still until told, a player on it, and what a practice needs around them."""

from __future__ import annotations

import asyncio
import math
from dataclasses import dataclass, field
from time import monotonic
from typing import TYPE_CHECKING

import numpy as np

from tempo_coach import coach
from tempo_coach.coach.practising.practice import PracticeContext
from tempo_coach.live.audio.playback import News, NewsKind, State
from tempo_coach.music.files.sound import Sound
from tests import HANG

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from textual.app import App
    from textual.pilot import Pilot

    from tempo_coach.live.audio.timeline import Gap
    from tempo_coach.live.notices import Notice
    from tempo_coach.pattern.plan.plan import Plan


@dataclass
class Clock:
    """Seconds, which pass only when a test says so."""

    now: float = 100.0

    def __call__(self) -> float:
        return self.now


@dataclass
class FakePlayer:
    """Sound that begins at once and does what a test says."""

    clock: Clock
    name: str = "fake sound"
    silent: bool = False
    notice: Notice | None = None
    fails: Notice | None = None
    trouble: None = None
    state: State = State.IDLE
    can_resume: bool = False
    latency_known: bool = True
    duration: float = 0.0
    gaps: tuple[Gap, ...] = ()
    starts: int = 0
    closed: bool = False
    samples: np.ndarray = field(default_factory=lambda: np.zeros(0))
    _zero: float = math.nan
    loops: bool = False
    _paused_at: float = math.nan
    _news: list[News] = field(default_factory=list)

    def start(self, samples: np.ndarray, rate_hz: int, *, first_frame: int = 0, loops: bool = False) -> None:
        self.loops = loops
        self.starts += 1
        self.samples = samples
        self.duration = len(samples) / rate_hz
        if self.fails is not None:
            self.state = State.PAUSED
            self._news = [News(NewsKind.PAUSED, math.nan, self.fails)]
            return
        self._zero = self.clock() - first_frame / rate_hz
        self.state = State.PLAYING
        self._news = [News(NewsKind.PLAYING, 0.0)]

    def poll(self) -> list[News]:
        news, self._news = self._news, []
        if self.state is State.PLAYING and not self.loops and self.position() >= self.duration:
            self.state = State.FINISHED
            news.append(News(NewsKind.FINISHED, self.duration))
        return news

    def position(self) -> float:
        return self._paused_at if self.state is State.PAUSED else self.clock() - self._zero

    def take_time(self, stamp: float) -> float:
        return stamp - self._zero if self.state is not State.PAUSED else math.nan

    def measurable(self, time: float) -> bool:
        return math.isfinite(time)

    def break_off(self, notice: Notice) -> None:
        self._paused_at = self.position()
        self.state = State.PAUSED
        self._news.append(News(NewsKind.PAUSED, self._paused_at, notice))

    def come_back(self, notice: Notice) -> None:
        self.can_resume = True
        self._news.append(News(NewsKind.BACK, self._paused_at, notice))

    def resume(self, *, first_frame: int | None = None) -> None:
        self._zero = self.clock() - self._paused_at
        self.state = State.PLAYING
        self._news.append(News(NewsKind.PLAYING, self._paused_at))

    def stop(self) -> None:
        self.state = State.IDLE

    def close(self) -> None:
        self.closed = True


@dataclass
class Stage:
    """A practice with everything around it faked: ``go`` is what the screen gets."""

    plan: Plan
    clock: Clock = field(default_factory=Clock)
    folder: Path | None = None
    fails: Notice | None = None
    options: dict[str, object] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.player = FakePlayer(self.clock, fails=self.fails)
        self.silent = FakePlayer(self.clock, name="silent clock", silent=True)
        folder = self.folder
        take_path: Callable[[int], Path] | None = None if folder is None else lambda n: folder / f"{n}.take.jsonl"
        self.context = PracticeContext(
            plan=self.plan,
            sound_of=self.sound_of,
            make_player=lambda: self.player,
            make_silent=lambda _: self.silent,
            tempo_bpm=self.plan.tempo_bpm or 0.0,
            take_path=take_path,
            begun=lambda: "2031-05-04T18:15:02",
            **self.options,  # type: ignore[arg-type]
        )

    def sound_of(self, tempo_bpm: float) -> tuple[Plan, Sound]:
        plan = self.plan
        if tempo_bpm and tempo_bpm != plan.tempo_bpm:
            plan = coach.lay(coach.Request(plan.drill, tempo_bpm=tempo_bpm, cycles=plan.cycles))
        return plan, Sound(np.zeros((round((plan.duration + 0.5) * 8000), 2), np.float32), 8000)


def lay(drill: str = "clubs_mills", **options: object) -> Plan:
    """Return a plan of a drill without music."""
    return coach.lay(coach.Request(drill, **options))  # type: ignore[arg-type]


async def wait_until(pilot: Pilot[int], true: Callable[[], bool]) -> None:
    """Let the screen work until something is so."""
    give_up = monotonic() + HANG
    while monotonic() < give_up:
        if true():
            return
        await pilot.pause(0.01)
    raise AssertionError("it never came to that: " + " | ".join(rows(pilot.app)))


def in_a_loop(coroutine: object) -> None:
    """Run a coroutine of a test."""
    asyncio.run(coroutine)  # type: ignore[arg-type]


def rows(app: App[int]) -> list[str]:
    """Return what stands on the terminal, row by row."""
    return [strip.text for strip in app.screen._compositor.render_strips()]
