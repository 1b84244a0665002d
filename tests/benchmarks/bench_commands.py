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
        yield Row("listen to 82 s of music, imports included", _measure(["listen", str(music)])[1], "s", floor=3)
        plan, onsets = there / "plan.json", there / "onsets.csv"
        _tempo_coach(["cue", "clubs_mills", "--tempo", "100", "--cycles", "5000", "--plan", str(plan)])
        moments = json.loads(plan.read_text())["moments"]
        onsets.write_text("time,hand\n" + "".join(f"{m['time'] + 0.01},{m['hand']}\n" for m in moments))
        score = ["score", str(onsets), "--plan", str(plan), "--json"]
        yield Row(f"score {len(moments)} moments, imports included", _measure(score)[1], "s", floor=1)


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
