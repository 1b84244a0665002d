"""The sound of a take on a machine that is busy with other things: what is lost, and what is said to be lost.

Every sample says its own number, a recorder that is not ours hears the server's monitor: each break in the numbers is a
loss, wherever it comes from. The busy processes are loops of arithmetic. One process held for a quarter of a second
loses sound on every machine. All of it is measured with the real-time priority that the program asks for, and without.

``TEMPO_COACH_BUSY_TAKES`` is the number of takes of each row, ``TEMPO_COACH_BUSY_LOADS`` names other numbers of busy
processes: ``8`` alone with 100 takes is some 25 minutes, with and without priority twice that.
"""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from tempo_coach.cli.doctor import look_at_load
from tempo_coach.live.audio.engine import Engine
from tempo_coach.live.audio.gapless import SETTLING
from tempo_coach.live.audio.playback import State
from tests.benchmarks.bench_live import BUSY, lower_priority, stamp_keys
from tests.benchmarks.table import Row
from tests.live.sound_server import SoundServer, missing_part

if TYPE_CHECKING:
    from collections.abc import Iterator

LOADS = tuple(map(int, os.environ.get("TEMPO_COACH_BUSY_LOADS", "0 2 4 8").split()))
TAKES, SECONDS = int(os.environ.get("TEMPO_COACH_BUSY_TAKES", "10")), 12.0
#: Keys that are stamped beside each load.
KEYS = 200
RATE_HZ = 48_000
#: float32 holds whole numbers up to 2^24 exactly.
STEP = 2.0**-23
#: Seconds of sound kept ready: what is marked may lie this far from what was heard.
BUFFER = 0.1


def run() -> Iterator[Row]:
    """Return the figures."""
    missing = missing_part()
    if missing:
        yield Row(f"not measured: {missing}", float("nan"))
        return
    with tempfile.TemporaryDirectory(prefix="busy-") as name:
        folder = Path(name)
        server = SoundServer(folder)
        os.environ.update(server.environment)
        server.start()
        try:
            for raised in (True, False):
                yield Row("with real-time priority" if raised else "without it", float("nan"))
                for load in LOADS:
                    yield from _beside(load, folder, server, raised=raised)
        finally:
            server.kill()


def _beside(load: int, folder: Path, server: SoundServer, *, raised: bool) -> Iterator[Row]:
    busy = [subprocess.Popen([sys.executable, "-c", BUSY]) for _ in range(load)]
    engine = Engine(folder=folder)
    takes: list[tuple[list[tuple[float, float]], list[tuple[float, float]], bool]] = []
    try:
        late = stamp_keys(KEYS, raised=raised)
        takes += [play_numbers(engine, server, held=k % 5 == 4, raised=raised) for k in range(TAKES)]
        told = [each for each in look_at_load() if not each.works]
    finally:
        engine.close()
        for each in busy:
            each.kill()
            each.wait()
    yield Row(f"{load} busy processes: SD of keys' stamps", float(late.std(ddof=1)), "ms")
    yield Row("  the latest stamp", float(late.max()), "ms")
    yield Row(f"  doctor warns{': ' + told[-1].found if told else ''}", len(told))
    heard = sum(len(breaks) for breaks, _, _ in takes)
    marked = sum(len(gaps) for _, gaps, _ in takes)
    unmarked = [end - start for breaks, gaps, _ in takes for start, end in breaks if not _near(start, end, gaps)]
    unheard = sum(len(_unheard(breaks, gaps)) for breaks, gaps, _ in takes)
    agreeing = sum(agree(breaks, gaps) for breaks, gaps, _ in takes)
    yield Row(f"  losses heard in {TAKES} takes of {SECONDS:g} s, {TAKES // 5} of them made", heard)
    yield Row("  marked", marked)
    yield Row(
        "  takes in which heard and marked agree within one buffer", agreeing / TAKES, "of 1", floor=1.0, better="high"
    )
    yield Row("  heard and not marked", len(unmarked), floor=0)
    yield Row("  marked and not heard", unheard, floor=0)
    yield Row(
        "  takes in which the latency of the device is known", sum(known for _, _, known in takes) / TAKES, "of 1"
    )


def play_numbers(
    engine: Engine, server: SoundServer, *, held: bool = False, raised: bool = True
) -> tuple[list[tuple[float, float]], list[tuple[float, float]], bool]:
    """Return losses heard and gaps marked, in take time, and whether the latency is known."""
    with server.recording() as recording:
        engine.start(((np.arange(round(SECONDS * RATE_HZ)) + 1) * STEP).astype(np.float32), RATE_HZ)
        while engine.state not in (State.FINISHED, State.PAUSED):
            engine.poll()
            time.sleep(0.02)
            if not raised and engine.pid:
                lower_priority(engine.pid)
            if held and engine.state is State.PLAYING and engine.position() > SECONDS / 2 and engine.pid:
                os.kill(engine.pid, signal.SIGSTOP)
                time.sleep(0.25)
                os.kill(engine.pid, signal.SIGCONT)
                held = False
        recording.wait_for_frames(recording.frames() + RATE_HZ // 2)
        engine.stop()
        numbers = np.round(recording.samples()[:, 0].astype(np.float64) / STEP).astype(np.int64) - 1
    return find_breaks(numbers), [(gap.start, gap.end) for gap in engine.gaps], engine.latency_known


def find_breaks(numbers: np.ndarray) -> list[tuple[float, float]]:
    """Return take times of the last sample before each loss and of the first after it, by what was recorded."""
    sounding = np.flatnonzero(numbers >= 0)
    if not sounding.size:
        return [(0.0, SECONDS)]
    after = np.flatnonzero((np.diff(sounding) != 1) | (np.diff(numbers[sounding]) != 1))
    breaks = [(numbers[sounding[k]] / RATE_HZ, numbers[sounding[k + 1]] / RATE_HZ) for k in after.tolist()]
    first, last = numbers[sounding[[0, -1]]] / RATE_HZ
    if first > 0:
        breaks.insert(0, (0.0, float(first)))
    if last < SECONDS - 1.5 / RATE_HZ:  # a take that stopped and said so, or an end that was lost
        breaks.append((float(last), float(last)))
    return breaks


def agree(heard: list[tuple[float, float]], marked: list[tuple[float, float]]) -> bool:
    """Return whether each loss is in a gap, and each gap has a loss, within one buffer."""
    return all(_near(*each, marked) for each in heard) and not _unheard(heard, marked)


def _unheard(heard: list[tuple[float, float]], marked: list[tuple[float, float]]) -> list[tuple[float, float]]:
    """Return the gaps without a loss; what is lost of the silence around the samples cannot be told by numbers."""
    # the end of a gap leaves half a second for the server to settle
    audible = [gap for gap in marked if gap[1] > SETTLING + BUFFER and gap[0] < SECONDS - BUFFER]
    return [gap for gap in audible if not any(_near(*each, [gap]) for each in heard)]


def _near(start: float, end: float, gaps: list[tuple[float, float]]) -> bool:
    """Whether a loss lies in a gap, or within one buffer of it."""
    return any(low - BUFFER <= start and end <= high + BUFFER for low, high in gaps)
