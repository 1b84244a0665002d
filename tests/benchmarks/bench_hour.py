"""An hour of takes with their sound: what grows, whether the clock is followed, the last take against the first.

Samples say their own numbers, on a sound server of the benchmark's own whose clock runs some 160 ppm fast; a recorder
that is not ours says which number was heard when. ``TEMPO_COACH_HOUR`` is the time of it in seconds.
"""

from __future__ import annotations

import os
import tempfile
import threading
import time
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from tempo_coach.live.audio.engine import Engine
from tempo_coach.live.audio.playback import State
from tests.benchmarks.bench_busy import BUFFER, RATE_HZ, SECONDS, STEP, agree, find_breaks
from tests.benchmarks.bench_live import Arrivals
from tests.benchmarks.table import Row
from tests.live.sound_server import SoundServer, missing_part

if TYPE_CHECKING:
    from collections.abc import Iterator

HOUR = float(os.environ.get("TEMPO_COACH_HOUR", "120"))
#: How many takes of the first and of the last are held against each other.
HELD = 5
#: Seconds of a take that are left out at its beginning, while the clock is being found.
FINDING = 3.0


class Held(NamedTuple):
    """What this program and its audio process hold: MB, descriptors, threads, children, files of the cache."""

    memory: float
    descriptors: int
    threads: int
    children: int
    files: int


class Take(NamedTuple):
    """One take: losses heard and marked (take time), the clock's offset against the recorder (s) and its rate (ppm)."""

    heard: list[tuple[float, float]]
    marked: list[tuple[float, float]]
    offset: float
    rate_ppm: float


def run() -> Iterator[Row]:
    """Return the figures."""
    missing = missing_part()
    if missing:
        yield Row(f"not measured: {missing}", float("nan"))
        return
    with tempfile.TemporaryDirectory(prefix="hour-") as name:
        folder = Path(name)
        cache = folder / "cache"
        cache.mkdir()
        server = SoundServer(folder)
        os.environ.update(server.environment)
        server.start()
        engine = Engine(folder=cache)
        takes, held = list[Take](), list[Held]()
        try:
            with server.recording() as recording, Arrivals(recording.path) as arrivals:
                end = time.monotonic() + HOUR
                while time.monotonic() < end:
                    takes.append(_take(engine, recording.path, arrivals))
                    held.append(_hold(cache, engine))
        finally:
            engine.close()
            left = _hold(cache, engine)
            server.kill()
    offsets = 1000 * np.array([take.offset for take in takes if np.isfinite(take.offset)])
    first, last = float(np.median(offsets[:HELD])), float(np.median(offsets[-HELD:]))
    yield Row(f"takes of {SECONDS:g} s with their sound", len(takes))
    yield Row("losses heard", sum(len(take.heard) for take in takes))
    yield Row("losses marked", sum(len(take.marked) for take in takes))
    yield Row("takes in which they do not agree within one buffer", sum(not agree(*take[:2]) for take in takes), "", 0)
    yield Row("takes of which the latency was not known", len(takes) - offsets.size)
    yield Row("the device's clock against ours, median", float(np.median([take.rate_ppm for take in takes])), "ppm")
    yield Row("the clock of the last takes against that of the first", abs(last - first), "ms", floor=1.0, aim=0.3)
    yield Row("the clock of a take, SD", float(offsets.std(ddof=1)), "ms", floor=1.0)
    early, late = held[min(HELD, len(held) - 1)], held[-1]
    yield Row("memory that came after the first takes", late.memory - early.memory, "MB", floor=10)
    for what in ("descriptors", "threads", "children", "files"):
        yield Row(f"{what} that came after the first takes", getattr(late, what) - getattr(early, what), "", floor=0)
    yield Row("children and files left behind", left.children + left.files, "", floor=0)


def _take(engine: Engine, recording: Path, arrivals: Arrivals) -> Take:
    begin = recording.stat().st_size // 8
    arrivals.forget()
    engine.start(((np.arange(round(SECONDS * RATE_HZ)) + 1) * STEP).astype(np.float32), RATE_HZ)
    stamps: list[float] = []
    while engine.state not in (State.FINISHED, State.PAUSED):
        engine.poll()
        time.sleep(0.02)
        stamps.append(time.perf_counter())
    time.sleep(0.5)
    engine.stop()
    # of a number the sample that carries it: a stereo frame of two floats
    raw = np.fromfile(recording, dtype="<f4", offset=8 * begin)
    numbers = np.round(raw[: raw.size // 2 * 2].reshape(-1, 2)[:, 0].astype(np.float64) / STEP).astype(np.int64) - 1
    sounding = np.flatnonzero(numbers >= 0)
    heard, marked = find_breaks(numbers), [(gap.start, gap.end) for gap in engine.gaps]
    times = np.array([engine.take_time(stamp) for stamp in stamps])
    asked = np.array(stamps)[(times > FINDING) & (times < SECONDS - BUFFER)]
    if asked.size < 10 or sounding.size < RATE_HZ or not engine.latency_known:
        return Take(heard, marked, float("nan"), float("nan"))
    mine = np.array([engine.take_time(stamp) for stamp in asked.tolist()])
    # the sample that the recorder wrote at each stamp, and the number in it
    written = arrivals.line().to_second(asked) - begin
    theirs = np.interp(written, sounding, numbers[sounding]) / RATE_HZ
    rate = np.polyfit(asked - asked[0], mine, 1)[0]
    return Take(heard, marked, float(np.median(mine - theirs)), 1e6 * (float(rate) - 1))


def _hold(cache: Path, engine: Engine) -> Held:
    children = [int(each) for each in Path(f"/proc/self/task/{os.getpid()}/children").read_text().split()]
    memory = sum(_memory(each) for each in (os.getpid(), *([engine.pid] if engine.pid in children else [])))
    files = sum(path.is_file() for path in cache.rglob("*"))
    ours = len(children) - _is_server(children)
    return Held(memory, len(list(Path("/proc/self/fd").iterdir())), threading.active_count(), ours, files)


def _is_server(children: list[int]) -> int:
    names = [Path(f"/proc/{each}/comm").read_text().strip() for each in children if Path(f"/proc/{each}").exists()]
    return sum(name in ("pulseaudio", "parec") for name in names)


def _memory(process: int) -> float:
    """What a process holds by itself, in MB."""
    rows = Path(f"/proc/{process}/status").read_text(encoding="ascii").splitlines()
    return next((int(row.split()[1]) / 1000 for row in rows if row.startswith("RssAnon")), 0.0)
