"""Folders of films, tables and takes on a real scheduler with 1, 2 and 4 workers, each a process of its own.

One worker is killed in the midst of the films. All workers are of this machine, so that more of them than it has cores
gain nothing; what a federation's year takes is therefore said in processor seconds, shared out. ``TEMPO_COACH_CLUSTER``
is how many films there are; tables are four times as many, takes twenty times.
"""

from __future__ import annotations

import contextlib
import io
import json
import os
import shutil
import signal
import tempfile
import threading
import time
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from tempo_coach.cli import main
from tempo_coach.coach import archiving
from tests.benchmarks.table import Row
from tests.coach.test_archiving import take
from tests.generators import films

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

FILMS = int(os.environ.get("TEMPO_COACH_CLUSTER", "12"))
TABLES, TAKES, WORKERS = 4 * FILMS, 20 * FILMS, (1, 2, 4)
#: Size and seconds of a film; seconds after which a worker is killed; films of a federation in a year.
SIZE, SECONDS, KILLED, YEAR = (640, 360), 20.0, 3.0, 5_000


def run() -> Iterator[Row]:
    """Return the figures."""
    try:
        from dask.distributed import LocalCluster
    except ImportError:
        yield Row("not measured: the extra cluster is not installed", float("nan"))
        return
    before = Path.cwd()
    with tempfile.TemporaryDirectory(prefix="cluster-") as name:
        folder = Path(name)
        numbers = _prepare(folder)
        size = (folder / "history.sqlite").stat().st_size
        os.chdir(folder)
        try:
            truth = _trace()
            for workers in WORKERS:
                with LocalCluster(
                    n_workers=workers, threads_per_worker=1, processes=True, dashboard_address=None
                ) as cluster:
                    on = ["--backend", "dask", "--scheduler", cluster.scheduler_address]
                    yield from _with(workers, on, cluster, numbers, truth)
        finally:
            os.chdir(before)
    yield Row(f"the history's file with {TAKES} takes, a take", size / TAKES / 1000, "kB")


def _prepare(folder: Path) -> list[int]:
    turning = films.turning(lambda t: t / 0.6, (SIZE[0] / 3, SIZE[1] / 2), 80)
    scene = films.Scene({"left": films.Marker(films.RED, turning)}, films.steady_times(SECONDS, 60), SIZE)
    films.write_film(folder / "f0.mp4", films.pictures(scene), size=SIZE, crf=20, preset="veryfast")
    for k in range(1, FILMS):
        shutil.copy(folder / "f0.mp4", folder / f"f{k}.mp4")
    stamps = np.arange(0, 60, 0.01)
    for k in range(TABLES):
        turned = 2 * np.pi * stamps / (0.8 + 0.01 * k)
        rows = np.column_stack([stamps, np.cos(turned), np.sin(turned)])
        np.savetxt(folder / f"t{k}.csv", rows, delimiter=",", header="time_s,x_m,y_m", comments="", fmt="%.5f")
    return [
        archiving.keep_take(
            take(0.02, seed), athlete="Ada", begun=f"2031-05-01T{seed // 60:02}:{seed % 60:02}",
            file=folder / "history.sqlite",
        )
        for seed in range(TAKES)
    ]  # fmt: skip


def _run(words: list[str]) -> str:
    out = io.StringIO()
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(io.StringIO()):
        main(words)
    return out.getvalue()


def _trace(on: list[str] | None = None) -> object:
    tables = [f"t{k}.csv" for k in range(TABLES)]
    return json.loads(_run(["trace", *tables, "--json", *(on or ["--jobs", "1"])]))["files"]


def _with(workers: int, on: list[str], cluster: object, numbers: list[int], truth: object) -> Iterator[Row]:
    found, took, work = _timed(on[-1], lambda: _trace(on))
    yield Row(f"{workers} workers: {TABLES} tables of a minute", took, "s")
    yield Row(f"{workers} workers: work for a table", work / TABLES, "s")
    yield Row(f"{workers} workers: found otherwise than by one process", found != truth, "", 0)
    judged: dict[str, Any] = {
        "made": "2031-06-02T09:00",
        "file": Path("history.sqlite"),
        "scheduler": on[-1],
        "jobs": -1,
    }
    changed, took, work = _timed(on[-1], lambda: archiving.rescore(numbers, **judged))
    yield Row(f"{workers} workers: {TAKES} takes judged again", took, "s")
    yield Row(f"{workers} workers: work for a take", 1000 * work / TAKES, "ms")
    yield Row(f"{workers} workers: cards that changed", changed, "", 0)
    _, took, work = _timed(on[-1], lambda: _film(on, f"whole{workers}"))
    work /= FILMS
    yield Row(f"{workers} workers: {FILMS} films of {SECONDS:g} s", took, "s")
    yield Row(f"{workers} workers: work for a film", work, "s")
    yield Row(f"{workers} workers: hours for {YEAR} films a year, with a core each", work * YEAR / workers / 3600, "h")
    killer = threading.Timer(KILLED, _kill_one, (on[-1],))
    begin = time.perf_counter()
    killer.start()
    out = _film(on, f"out{workers}")
    took = time.perf_counter() - begin
    killer.join()
    yield Row(f"{workers} workers: the same, a worker killed after {KILLED:g} s", took, "s")
    yield Row(f"{workers} workers: films without a table", FILMS - len(list(out.glob("*.csv"))), "", 0)


def _film(on: list[str], name: str) -> Path:
    """Follow all films and return the folder of their tables."""
    out = Path(name)
    out.mkdir()
    _run(["film", *(f"f{k}.mp4" for k in range(FILMS)), "--marker", "left=red", "--out", name, *on])
    return out


def _timed(scheduler: str, work: Callable[[], Any]) -> tuple[Any, float, float]:
    """Return what work gives, its seconds, and the processor seconds of all workers meanwhile."""
    worked = _worked(scheduler)
    begin = time.perf_counter()
    given = work()
    took = time.perf_counter() - begin
    return given, took, _worked(scheduler) - worked


def _worked(scheduler: str) -> float:
    """Return the processor seconds of all workers so far."""
    from dask.distributed import Client

    with Client(scheduler) as client:
        return sum(client.run(time.process_time).values())


def _kill_one(scheduler: str) -> None:
    """End one worker at once, as a machine that is switched off; its nanny starts another."""
    from dask.distributed import Client

    with Client(scheduler) as client:
        os.kill(min(client.run(os.getpid).values()), signal.SIGKILL)
