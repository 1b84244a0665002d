"""Whole commands in fresh processes: how long she waits."""

from __future__ import annotations

import json
import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from typing import TYPE_CHECKING

import soundfile

from tests.benchmarks.table import Row

if TYPE_CHECKING:
    from collections.abc import Iterator

RUNS = 5


def run() -> Iterator[Row]:
    """Yield one row for each command; the median of several runs after one that warms the disk."""
    with tempfile.TemporaryDirectory() as folder:
        there = Path(folder)
        yield Row("--help, CPU", _measure(["--help"])[0], "s", floor=0.15)
        yield Row("demo, second run", _measure(["demo", "--out", str(there / "demo"), "--force"])[1], "s", floor=20)
        music = there / "demo" / "music.wav"
        cpu, memory = _hear(music, there, RUNS)
        yield Row("listen to 82 s of music, CPU, imports included", cpu, "s", floor=2, aim=1.2)
        yield Row("the same, memory", memory, "MB", floor=200)
        cpu, memory = _hear(_go_on(music, there / "hour.wav"), there, 1)
        yield Row("listen to 60 minutes of it, CPU", cpu, "s")
        yield Row("the same, memory", memory, "MB", floor=400)
        plan, onsets = there / "plan.json", there / "onsets.csv"
        _tempo_coach(["cue", "clubs_mills", "--tempo", "100", "--cycles", "5000", "--plan", str(plan)])
        moments = json.loads(plan.read_text())["moments"]
        onsets.write_text("time,hand\n" + "".join(f"{m['time'] + 0.01},{m['hand']}\n" for m in moments))
        score = ["score", str(onsets), "--plan", str(plan), "--json"]
        yield Row(f"score {len(moments)} moments, imports included", _measure(score)[1], "s", floor=1)


#: A process of its own, so that the most memory is that of one command; what was heard before is in no cache.
_ALONE = """
import os, resource, subprocess, sys, tempfile
with tempfile.TemporaryDirectory() as cache:
    subprocess.run(
        [sys.executable, "-m", "tempo_coach.cli", "listen", *sys.argv[1:]],
        check=True, capture_output=True, env=os.environ | {"XDG_CACHE_HOME": cache},
    )
used = resource.getrusage(resource.RUSAGE_CHILDREN)
print(used.ru_utime + used.ru_stime, used.ru_maxrss / 1024)
"""


def _hear(music: Path, folder: Path, runs: int) -> tuple[float, float]:
    """Return the median of the CPU seconds, and the most megabytes, of hearing music that was not heard before."""
    asked = [sys.executable, "-c", _ALONE, str(music), "--beats", str(folder / "beats.txt"), "--force"]
    told = [subprocess.run(asked, check=True, capture_output=True, text=True).stdout.split() for _ in range(runs)]
    cpu, memory = zip(*((float(a), float(b)) for a, b in told), strict=True)
    return sorted(cpu)[runs // 2], max(memory)


def _go_on(music: Path, longer: Path) -> Path:
    """Write an hour of the same music over and over, in stereo."""
    samples, rate_hz = soundfile.read(music, dtype="int16", always_2d=True)
    left = 3600 * rate_hz
    with soundfile.SoundFile(longer, "w", rate_hz, 2) as file:
        while left:
            file.write(samples[:left, [0, -1]])
            left -= min(left, len(samples))
    return longer


def _measure(arguments: list[str]) -> tuple[float, float]:
    """Return CPU and wall seconds, each the median."""
    _tempo_coach(arguments)
    cpu, wall = [], []
    for _ in range(RUNS):
        before, begin = resource.getrusage(resource.RUSAGE_CHILDREN), time.perf_counter()
        _tempo_coach(arguments)
        after = resource.getrusage(resource.RUSAGE_CHILDREN)
        wall.append(time.perf_counter() - begin)
        cpu.append(after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime)
    return sorted(cpu)[RUNS // 2], sorted(wall)[RUNS // 2]


def _tempo_coach(arguments: list[str]) -> None:
    subprocess.run([sys.executable, "-m", "tempo_coach.cli", *arguments], check=True, capture_output=True)
