"""A day of practice in minutes: the clock and the sound are faked; the course, the judging and the disk are real."""

from __future__ import annotations

import gc
import os
import tempfile
import threading
import time
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar

import numpy as np

from tempo_coach.coach.archiving import keep_take
from tempo_coach.coach.practising.conductor import Conductor
from tempo_coach.history.takes import History
from tempo_coach.live.practice.session import Stage, Way
from tests.benchmarks.table import Row
from tests.ui import fakes

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from tempo_coach.coach.practising.practice import FinishedTake

Result = TypeVar("Result")
HOURS = 24
#: Seconds between two ticks while nothing is pressed, as the course asks for at least.
TICK = 0.1
#: Takes at the beginning and at the end that are held against what was tapped.
HELD = 10
KEYS = {"right": "j", "left": "f"}
PLAN = fakes.lay("clubs_mills", tempo_bpm=120, cycles=24)


def run() -> Iterator[Row]:
    """Yield how many takes there were, how memory and files grew, and whether the last hour was slower.

    The first hours are left out of what memory and time are held against: caches fill in them.
    """
    with tempfile.TemporaryDirectory() as folder:
        practice = _Practice(Path(folder))
        held, took, owned = {}, {}, {}
        for hour in range(1, HOURS + 1):
            begin = time.process_time()
            practice.go_on(3600.0)
            took[hour] = time.process_time() - begin
            practice.rest()  # while a take runs its file and a thread are open
            held[hour] = _memory()
            owned[hour] = _owned()
        takes = practice.conductor.session.number - 1
        practice.conductor.leave()
        files = [path.stat().st_size for path in Path(folder).glob("*.jsonl")]
        history = Path(folder) / "history.sqlite"
        with History(history, read_only=True) as kept:
            in_history = len(kept.find())
        yield Row(f"takes in {HOURS} h, of {len(PLAN.moments)} moments", takes, "takes")
        yield Row("takes that are not in the history", takes - in_history, "takes", floor=0)
        yield Row("memory after 3 h", held[3], "MB")
        yield Row(f"memory that came with the {HOURS - 3} h after", held[HOURS] - held[3], "MB", floor=10, aim=5)
        for k, what in enumerate(("descriptors", "threads", "processes")):
            yield Row(f"{what} that came with them", owned[HOURS][k] - owned[3][k], "", floor=0)
        yield Row(
            "the first takes: farthest onset from where it was tapped", practice.wrong(first=True), "ms", floor=0.01
        )
        yield Row("the last takes: the same", practice.wrong(first=False), "ms", floor=0.01)
        yield Row("the last hour's work, against the third's", took[HOURS] / took[3], "times", floor=2, aim=1.2)
        yield Row("files of takes, the largest", max(files) / 1024, "KB", floor=256)
        yield Row("files beside them", len(list(Path(folder).iterdir())) - len(files), "files", floor=3)
        yield Row("history for each take", history.stat().st_size / 1024 / takes, "KB", floor=64)


class _Practice:
    """Somebody who taps along, a little late and not quite evenly, take after take."""

    def __init__(self, folder: Path) -> None:
        self._draw = np.random.default_rng(1)
        self._pressed = 0
        self._true: list[float] = []
        self._wrong: list[float] = []
        self._folder = folder
        way = Way(ready=5.0, takes=10**9, rest=20.0)
        options = {"keys": "jf", "at_once": True, "way": way, "keep": self._keep}
        self._stage = fakes.Stage(PLAN, folder=folder, options=options)
        self.conductor = Conductor(self._stage.context, aside=_at_once, clock=self._stage.clock)

    def go_on(self, seconds: float) -> None:
        """Let so many seconds pass."""
        clock, conductor = self._stage.clock, self.conductor
        until = clock.now + seconds
        moments = PLAN.moments
        while clock.now < until:
            if conductor.session.stage is not Stage.PLAYING:
                self._pressed = 0
                clock.now += TICK
            elif self._pressed < len(moments):
                late = self._draw.normal(0.01, 0.02)
                asked = self._stage.player.position() - float(moments.time[self._pressed])
                wait = late - asked
                if wait > TICK:
                    clock.now += TICK
                else:
                    clock.now += max(wait, 0.0)
                    if not self._pressed:
                        self._true = []
                    self._true.append(self._stage.player.position())
                    conductor.press(KEYS[moments.hand[self._pressed]], clock.now)
                    self._pressed += 1
            else:
                clock.now += TICK
            conductor.tick()
            conductor.picture()

    def rest(self) -> None:
        """Go on until no take runs."""
        while self.conductor.session.stage is Stage.PLAYING:
            self.go_on(1.0)

    def wrong(self, *, first: bool) -> float:
        """Return how far an onset of the first or last takes lies from where it was tapped, at most, in ms."""
        return 1000 * max(self._wrong[:HELD] if first else self._wrong[-HELD:])

    def _keep(self, done: FinishedTake, how: str) -> str:
        found = np.sort(done.take.onsets.time)
        same = found.size == len(self._true)
        self._wrong.append(float(np.abs(found - np.sort(self._true)).max()) if same else np.inf)
        begun = f"2031-05-{1 + int(self._stage.clock.now // 86400):02d}T18:15:02"
        file = self._folder / "history.sqlite"
        keep_take(done.take, card=done.card, athlete="Ada", begun=begun, ended=how, file=file)
        return ""


def _owned() -> tuple[int, int, int]:
    """Descriptors, threads and children of this process."""
    children = Path(f"/proc/self/task/{os.getpid()}/children").read_text(encoding="ascii").split()
    return len(list(Path("/proc/self/fd").iterdir())), threading.active_count(), len(children)


def _at_once(work: Callable[[], Result], then: Callable[[Result], None]) -> None:
    then(work())


def _memory() -> float:
    """What this process holds now, in MB."""
    gc.collect()
    pages = int(Path("/proc/self/statm").read_text(encoding="ascii").split()[1])
    return pages * os.sysconf("SC_PAGE_SIZE") / 1e6
