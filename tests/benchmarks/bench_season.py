"""A season of 12 invented people and 20,000 takes: today's plan, pages, and two such histories put together.

Each time is told as the clock has it and as seconds of the processor: on a machine that does other things beside it the
first is longer.
"""

from __future__ import annotations

import statistics
import subprocess
import sys
import tempfile
import time
from datetime import date, timedelta
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from tempo_coach import coach
from tempo_coach.coach.goals import judge_goals, set_goal
from tempo_coach.coach.overviews import gymnast_page_of, table_page_of
from tempo_coach.coach.todays_practice import open_group, open_today
from tempo_coach.history.records import Wanted
from tempo_coach.history.season import Goal
from tempo_coach.history.takes import History
from tempo_coach.observe.take.onsets import Onsets, Take
from tempo_coach.report.pages.athlete import athlete_page
from tempo_coach.report.pages.todays_list import todays_page
from tempo_coach.report.words.card import card_to_dict
from tests.benchmarks.bench_history import ROOT, command
from tests.benchmarks.table import Row

if TYPE_CHECKING:
    import sqlite3
    from collections.abc import Callable, Iterator

    from tempo_coach.pattern.plan.plan import Plan

PEOPLE, TAKES, CYCLES = 12, 1_667, 32
DRILLS = (
    *("clubs_mills", "clubs_mills_two", "clubs_mills_overhead", "rope_figure_eight", "rope_skips_single"),
    *("hoop_hand_rotations", "ball_bounces", "ribbon_snakes"),
)
DAY = date.today()

_MERGED = """
import re, sys, time
from pathlib import Path
from tempo_coach.coach.sharing import merge_histories
began = time.perf_counter()
merged = merge_histories(Path(sys.argv[1]), sys.argv[2])
memory = int(re.search("VmHWM:\\\\s+([0-9]+)", Path("/proc/self/status").read_text())[1]) / 1000
print(time.perf_counter() - began, memory, merged.takes, merged.known)
"""


def run() -> Iterator[Row]:
    """Yield the rows of the table."""
    with tempfile.TemporaryDirectory() as folder:
        here, there = Path(folder) / "here" / "history.sqlite", Path(folder) / "there" / "history.sqlite"
        fill(here, 1)
        fill(there, 2)
        yield Row("a history", here.stat().st_size / 1e6, "MB")
        name = "person 5"
        set_goal(here, name, Goal("clubs_mills", DAY + timedelta(days=30), 108.0, "ones"), day=DAY)
        for what, work, floor in (
            ("today's plan", lambda: open_today(here, name, day=DAY, anew=True), 0.3),
            ("goals judged", lambda: judge_goals(here, name, day=DAY), 0.3),
            ("the gymnast's page", lambda: gymnast_page_of(here, name, day=DAY), 1.0),
            ("the coach's table of all", lambda: table_page_of(here, None, day=DAY), 1.0),
            ("the athlete's page", lambda: _athlete(here, name), 1.0),
            ("the lists of all twelve as a page", lambda: _lists(here), 1.0),
        ):
            seconds, of_processor = _median(work)
            yield Row(f"{what}, median of 5", seconds, "s", floor)
            yield Row(f"{what}: of the processor", of_processor, "s")
        to_page = ("--force", "--out", str(Path(folder) / "x.html"))
        everybody = [word for k in range(PEOPLE) for word in ("--group", f"person {k}")]
        for what, words in (
            ("today --json", ("today", "--athlete", name, "--json")),
            ("report --table", ("report", "--table", *to_page)),
            ("report --gymnast", ("report", "--gymnast", name, *to_page)),
            ("report --athlete", ("report", "--athlete", name, *to_page)),
            ("today of all twelve as a page", ("today", *everybody, *to_page)),
            ("history --json", ("history", "--json")),
        ):
            seconds, memory = command(*words, "--file", str(here))
            yield Row(f"tempo-coach {what}, Python's start in it", seconds, "s")
            yield Row(f"tempo-coach {what}: memory", memory, "MB", 300)
        done = subprocess.run(
            [sys.executable, "-c", _MERGED, str(here), str(there)], check=True, capture_output=True, text=True, cwd=ROOT
        )
        seconds, memory, takes, _ = map(float, done.stdout.split())
        yield Row("merge of two: takes that came", takes, "", PEOPLE * TAKES, better="high")
        yield Row("merge of two", seconds, "s", 10)
        yield Row("merge of two: memory", memory, "MB", 300)
        done = subprocess.run(
            [sys.executable, "-c", _MERGED, str(here), str(there)], check=True, capture_output=True, text=True, cwd=ROOT
        )
        yield Row("merged again: takes that came", float(done.stdout.split()[2]), "", 0)
        yield Row("merged again", float(done.stdout.split()[0]), "s", 10)


def fill(file: Path, seed: int) -> None:
    """Put a season of one person into a history, and the same of all others under their names, each take another."""
    generator = np.random.default_rng(seed)
    file.parent.mkdir()
    plans = [coach.lay(coach.Request(drill, tempo_bpm=100, cycles=CYCLES, cues="ones")) for drill in DRILLS]
    said = [card_to_dict(coach.judge_take(_perform(plan, generator))) for plan in plans]
    with History(file) as history:
        history.connection.execute("PRAGMA synchronous = OFF")
        for number in range(TAKES):
            k = int(generator.integers(len(plans)))
            begun = f"{DAY - timedelta(days=(TAKES - number) // 12 + 1)}T17:{number % 12 * 5:02}:{seed:02}"
            pct = float(6 * np.exp(-number / 2500 + generator.normal(0, 0.3)))
            card = {**said[k], "period_cv_pct": pct, "scatter_pct": pct}
            history.put(_perform(plans[k], generator), card, athlete="person 0", begun=begun, steady=pct < 4.5)
        with history.writing() as connection:
            for person in range(1, PEOPLE):
                _copy_person(connection, person)


def _perform(plan: Plan, generator: np.random.Generator) -> Take:
    times = plan.moments.time + generator.normal(0, 0.02, len(plan.moments))
    return Take(plan, Onsets.unsorted(times.tolist(), plan.moments.hand), observed_by="tap")


def _copy_person(connection: sqlite3.Connection, person: int) -> None:
    """Give the takes of the first person to another one, as other takes."""
    connection.execute("INSERT INTO athlete VALUES (?, ?)", (person + 1, f"person {person}"))
    more = person * TAKES
    for table, changed in (
        ("take", {"id": f"id + {more}", "athlete": str(person + 1), "mark": "randomblob(32)"}),
        ("onsets", {"take": f"take + {more}"}),
        ("card", {"id": "NULL", "take": f"take + {more}"}),
    ):
        names = [row[1] for row in connection.execute(f"PRAGMA table_info({table})")]
        values = ", ".join(changed.get(name, name) for name in names)
        key = "id" if table == "take" else "take"
        connection.execute(f"INSERT INTO {table} SELECT {values} FROM {table} WHERE {key} <= {TAKES}")


def _athlete(file: Path, name: str) -> None:
    with History(file, read_only=True) as history:
        athlete_page(history.find(Wanted(athlete=name, counting=True)), notes=history.notes(athlete=name))


def _lists(file: Path) -> None:
    todays = open_group(file, [f"person {k}" for k in range(PEOPLE)], day=DAY)
    todays_page([(each.person, each.record) for each in todays], {})


def _median(work: Callable[[], object]) -> tuple[float, float]:
    """Seconds by the clock and of the processor, the medians of five runs."""
    found = []
    for _ in range(5):
        began, before = time.perf_counter(), time.process_time()
        work()
        found.append((time.perf_counter() - began, time.process_time() - before))
    seconds, of_processor = zip(*found, strict=True)
    return statistics.median(seconds), statistics.median(of_processor)
