"""Work spread over processes: a real Dask scheduler with two workers, each a process of its own on this machine.

What one process makes of the same takes is the truth.
"""

from __future__ import annotations

import json
import os
import platform
import signal
import socket
from importlib import metadata
from typing import TYPE_CHECKING

import numpy as np
import pytest

from tempo_coach.cli import main
from tempo_coach.coach import archiving, spreading
from tempo_coach.errors import CoachError
from tempo_coach.history.takes import History
from tests.coach.test_archiving import take
from tests.refused import refused

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from dask.distributed import LocalCluster


@pytest.fixture(scope="module")
def cluster() -> Iterator[LocalCluster]:
    from dask.distributed import LocalCluster

    with LocalCluster(n_workers=2, threads_per_worker=1, processes=True, dashboard_address=None) as cluster:
        yield cluster


def kill_one(cluster: LocalCluster) -> None:
    """End one worker at once, as a machine that is switched off; its nanny starts another."""
    from dask.distributed import Client

    with Client(cluster.scheduler_address) as client:
        os.kill(min(client.run(os.getpid).values()), signal.SIGKILL)


def test_workers_judge_as_one_process_does_also_when_one_of_them_dies(
    cluster: LocalCluster, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    file = tmp_path / "history.sqlite"
    numbers = [
        archiving.keep_take(take(0.02, seed), athlete="Ada", begun=f"2031-05-{seed:02}T10:00", file=file)
        for seed in range(1, 13)
    ]
    with History(file) as history:
        wrong = {**history.take(numbers[7]).card, "sentence": "of old"}
        history.put_card(numbers[7], wrong, steady=False, made="2031-06-01T10:00")
    monkeypatch.setattr(archiving, "TOGETHER", 4)
    shares: list[float] = []

    def progress(share: float) -> None:
        if not shares:
            kill_one(cluster)
        shares.append(share)

    changed = archiving.rescore(
        numbers, made="2031-06-02T09:00", file=file, scheduler=cluster.scheduler_address, jobs=-1, progress=progress
    )
    assert changed == 1 and shares[-1] == 1.0
    assert archiving.rescore(numbers, made="2031-06-03T09:00", file=file) == 0


def test_tables_are_read_by_workers_as_by_one_process_and_one_that_cannot_be_is_said(
    cluster: LocalCluster, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    time = np.arange(0, 12, 0.02)
    for name, period in (("a", 0.8), ("b", 1.1)):
        rows = np.column_stack([time, np.cos(2 * np.pi * time / period), np.sin(2 * np.pi * time / period)])
        np.savetxt(tmp_path / f"{name}.csv", rows, delimiter=",", header="time_s,x_m,y_m", comments="", fmt="%.5f")
    (tmp_path / "c.csv").write_text("time_s,x_m\n")
    monkeypatch.chdir(tmp_path)
    words = ["trace", "a.csv", "b.csv", "c.csv", "--json"]
    assert main(words) == 1
    alone = json.loads(capsys.readouterr().out)["files"]
    assert main([*words, "--backend", "dask", "--scheduler", cluster.scheduler_address]) == 1
    assert json.loads(capsys.readouterr().out)["files"] == alone
    assert [alone[f"{name}.csv"]["period_s"] for name in "ab"] == pytest.approx([0.8, 1.1], abs=0.01)
    assert "c.csv" in alone["c.csv"]["error"]
    assert main(words[:-1]) == 1
    table = capsys.readouterr().out.splitlines()
    assert len(table) == 4 and "0.800" in table[1] and "1.100" in table[2] and "c.csv" in table[3]


def test_a_worker_of_another_version_is_refused_before_anything_is_judged(
    cluster: LocalCluster, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(spreading, "__version__", "99.1")
    here = (metadata.version("tempo_coach"), ".".join(platform.python_version_tuple()[:2]))
    with pytest.raises(CoachError) as caught, spreading.spread(-1, cluster.scheduler_address):
        pass
    assert caught.value.code == "dask.versions"
    assert caught.value.facts == {"here": ("99.1", here[1]), "there": here}


def test_a_scheduler_that_is_not_there_is_said(monkeypatch: pytest.MonkeyPatch) -> None:
    with socket.create_server(("127.0.0.1", 0)) as free:
        address = f"tcp://127.0.0.1:{free.getsockname()[1]}"
    monkeypatch.setattr(spreading, "REACHED_WITHIN", 0.3)
    with refused("no Dask scheduler answers there"), spreading.spread(-1, address):
        pass


def test_without_a_scheduler_the_order_is_kept() -> None:
    with spreading.spread() as on_all:
        assert list(on_all(abs, [-3, 2, -1])) == [3, 2, 1]
    with spreading.spread(2) as on_all:
        assert list(on_all(abs, [-3, 2, -1])) == [3, 2, 1]
