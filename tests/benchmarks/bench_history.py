"""A season in the history: 100 invented athletes, 20,000 takes, 4 million onsets; and programs killed at random.

``TEMPO_COACH_ATHLETES`` is another number of them, as 200 in a big club: 40,000 takes and 8 million onsets.

Every command is timed as a process of its own, Python's start in it; what is inside one program is timed there.
"""

from __future__ import annotations

import contextlib
import os
import random
import signal
import sqlite3
import statistics
import subprocess
import sys
import tempfile
import time
from datetime import datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from tempo_coach import coach
from tempo_coach.history.forget import find_going, forget
from tempo_coach.history.progress import measure_progress
from tempo_coach.history.records import Wanted
from tempo_coach.history.store import back_up
from tempo_coach.history.takes import History
from tempo_coach.observe.take.onsets import Onsets, Take
from tempo_coach.report.words.card import card_to_dict
from tests.benchmarks.table import Row

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from tempo_coach.pattern.plan.plan import Plan

ATHLETES, TAKES, CYCLES = int(os.environ.get("TEMPO_COACH_ATHLETES", "100")), 200, 100
KILLS = 200
ROOT = Path(__file__).parents[2]


def run() -> Iterator[Row]:
    """Yield the rows of the table."""
    with tempfile.TemporaryDirectory() as folder:
        yield from measure_season(Path(folder) / "history.sqlite")
    with tempfile.TemporaryDirectory() as folder:
        yield from measure_kills(Path(folder))


def measure_season(file: Path) -> Iterator[Row]:
    """Time what is done with a whole season."""
    begin = time.perf_counter()
    onsets = fill(file)
    yield Row("filling: takes a second", ATHLETES * TAKES / (time.perf_counter() - begin), "", better="high")
    yield Row("onsets", onsets / 1e6, "million", floor=ATHLETES / 25, better="high")
    yield Row("the file", file.stat().st_size / 1e6, "MB")
    yield Row("the file, for a take", file.stat().st_size / 1e3 / ATHLETES / TAKES, "kB")
    yield Row("open the history, count, last 40 takes, median of 9", _median(lambda: _open(file)), "s", floor=0.2)
    with History(file, read_only=True) as history:
        name = f"athlete {ATHLETES // 2}"
        yield Row("trend of an athlete's drill, median of 9", _median(lambda: _trend(history, name)), "s", floor=0.1)
        yield Row(
            "find by words in all takes, median of 9", _median(lambda: history.find(Wanted(words=name, last=300))), "s"
        )
        yield Row("one take whole, median of 9", _median(lambda: history.take(ATHLETES * TAKES // 2)), "s", floor=0.1)
        began = time.perf_counter()
        rows = history.find()
        yield Row(f"all {len(rows)} takes as rows", time.perf_counter() - began, "s")
    for what, words, floor in (
        ("history", (), 0.8),
        ("history", ("--athletes",), 0.8),
        ("history", ("--athlete", name, "--drill", "clubs_mills", "--trend"), 1.5),
        ("today", ("--athlete", name, "--list"), 0.8),
    ):
        seconds, memory = command(what, *words, "--file", str(file))
        told = " ".join(("tempo-coach", what, *words[-1:]))
        yield Row(told, seconds, "s", floor=floor)
        yield Row(f"{told}: memory", memory, "MB", floor=300)
    for what, words in (("of a take", (str(ATHLETES * TAKES // 2),)), ("of an athlete", ("--athlete", name))):
        page = file.with_name("page.html")
        seconds, memory = command("report", *words, "--out", str(page), "--force", "--file", str(file))
        yield Row(f"report {what}", seconds, "s", floor=2)
        yield Row(f"report {what}: memory", memory, "MB", floor=300)
        yield Row(f"report {what}: size", page.stat().st_size / 1000, "KB", floor=500)
    began = time.perf_counter()
    back_up(file, file.with_name("backup"))
    yield Row("backup, checked", time.perf_counter() - began, "s")
    began = time.perf_counter()
    with History(file) as history:
        forget(history, find_going(history, name))
    yield Row("forget an athlete for good", time.perf_counter() - began, "s")


def measure_kills(folder: Path) -> Iterator[Row]:
    """Kill programs that write takes, each at another moment; count what is damaged or lost."""
    from tests.history import kill

    generator = random.Random(6)
    damaged = lost = acknowledged = killed = 0
    for number in range(KILLS):
        words = ("-m", "tests.history.kill", str(folder), str(10**9 + number))
        process = subprocess.Popen([sys.executable, *words], cwd=ROOT)
        told = folder / f"{10**9 + number}.acknowledged"
        while not told.exists() and process.poll() is None:
            time.sleep(0.001)
        time.sleep(generator.uniform(0, 0.04))
        children = Path(f"/proc/{process.pid}/task/{process.pid}/children").read_text().split()
        for child in children:
            with contextlib.suppress(ProcessLookupError):
                os.kill(int(child), signal.SIGKILL)
        process.wait()
        said = told.read_text().split()
        killed += "all" not in said
        numbers = [int(word) for word in said if word != "all"]
        acknowledged += len(numbers)
        with History(folder / f"{10**9 + number}.sqlite") as history:
            damaged += not _whole(history)
            kept = {row.number for row in history.find()}
            lost += len(set(numbers) - kept)
    yield Row("programs killed while they wrote", killed, "", floor=KILLS * 0.6, better="high")
    yield Row("takes acknowledged by then", acknowledged, "", floor=kill.TAKES, better="high")
    yield Row("histories damaged", damaged, "", floor=0)
    yield Row("acknowledged takes lost", lost, "", floor=0)


def fill(file: Path) -> int:
    """Put a season into a history and return the number of onsets; not brought to the disk take by take."""
    generator = np.random.default_rng(7)
    onsets = 0
    with History(file) as history:
        history.connection.execute("PRAGMA synchronous = OFF")
        plans = [
            coach.lay(coach.Request("clubs_mills", tempo_bpm=bpm, cycles=CYCLES, cues="thinning"))
            for bpm in (92, 100, 108)
        ]
        said = [card_to_dict(coach.judge_take(_perform(plan, generator, 0.02))) for plan in plans]
        first = datetime(2031, 1, 6, 17, 0)
        for athlete in range(ATHLETES):
            for number in range(TAKES):
                plan = plans[number % 3]
                spread = 0.04 * np.exp(-number / 250) * generator.uniform(0.8, 1.2)
                take = _perform(plan, generator, spread)
                onsets += len(take.onsets)
                begun = first + timedelta(days=number // 5, minutes=5 * (number % 5), seconds=athlete)
                figures = {"spread_ms": 1000 * spread, "bias_ms": float(generator.normal(-10, 10))}
                history.put(
                    take,
                    {**said[number % 3], **figures},
                    athlete=f"athlete {athlete}",
                    begun=begun.isoformat(),
                    steady=bool(spread < 0.03),
                )
    return onsets


def command(*words: str) -> tuple[float, float]:
    """Run a command in a process of its own and return its seconds and its memory in MB; the best of three."""
    found = []
    for _ in range(3):
        began = time.perf_counter()
        subprocess.run(
            [sys.executable, "-m", "tempo_coach.cli", *words], check=True, stdout=subprocess.DEVNULL, cwd=ROOT
        )
        found.append(time.perf_counter() - began)
    measured = subprocess.run(
        [sys.executable, "-c", _MEASURED, *words], check=True, capture_output=True, text=True, cwd=ROOT
    )
    return min(found), float(measured.stderr.split()[-1])


# the largest memory of the program itself: what the system counts for a child has its parent's in it
_MEASURED = """
import re, sys
from pathlib import Path
from tempo_coach.cli import main
code = main(sys.argv[1:])
print(int(re.search("VmHWM:\\\\s+([0-9]+)", Path("/proc/self/status").read_text())[1]) / 1000, file=sys.stderr)
sys.exit(code)
"""


def _perform(plan: Plan, generator: np.random.Generator, spread: float) -> Take:
    times = plan.moments.time + generator.normal(0, spread, len(plan.moments))
    return Take(plan, Onsets.unsorted(times.tolist(), plan.moments.hand), observed_by="tap")


def _open(file: Path) -> None:
    with History(file, read_only=True) as history:
        history.count()
        history.find(Wanted(last=40))


def _trend(history: History, name: str) -> None:
    measure_progress(history.find(Wanted(athlete=name, drill="clubs_mills")))


def _median(work: Callable[[], object]) -> float:
    seconds = []
    for _ in range(9):
        began = time.perf_counter()
        work()
        seconds.append(time.perf_counter() - began)
    return statistics.median(seconds)


def _whole(history: History) -> bool:
    from tempo_coach.errors import CoachError

    try:
        history.check()
    except (CoachError, sqlite3.Error):
        return False
    return True
