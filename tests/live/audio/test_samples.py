"""The folders of samples: each is its program's own, and what a killed one left is cleared by the next."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from typing import TYPE_CHECKING

import numpy as np
import pytest

from tempo_coach.live.audio import samples
from tempo_coach.live.audio.engine import Engine
from tempo_coach.live.audio.samples import UNTOUCHED, SamplesFolder, clear_abandoned

if TYPE_CHECKING:
    from pathlib import Path

HOLDS = (
    "import sys, time\n"
    "from pathlib import Path\n"
    "from tempo_coach.live.audio.samples import SamplesFolder\n"
    "folder = SamplesFolder(Path(sys.argv[1]))\n"
    "(folder.path / 'samples.f32').write_bytes(bytes(1000))\n"
    "print(folder.path, flush=True)\n"
    "time.sleep(600)\n"
)


def names(within: Path) -> list[str]:
    return sorted(each.name for each in within.iterdir())


def test_what_a_killed_program_left_is_cleared_by_the_next_and_nothing_else(tmp_path: Path) -> None:
    pytest.importorskip("fcntl", reason="this system has no locks that go with a program")
    children = [
        subprocess.Popen([sys.executable, "-c", HOLDS, str(tmp_path)], stdout=subprocess.PIPE, text=True)
        for _ in range(2)
    ]
    left = []
    for child in children:
        assert child.stdout is not None
        left.append(child.stdout.readline().strip())
    (tmp_path / "mine.wav").write_bytes(b"mine")
    mine = SamplesFolder(tmp_path)
    assert len(names(tmp_path)) == 4  # all are alive
    os.kill(children[0].pid, signal.SIGKILL)
    children[0].wait()
    other = SamplesFolder(tmp_path)
    assert os.path.basename(left[0]) not in names(tmp_path)  # noqa: PTH119
    assert os.path.basename(left[1]) in names(tmp_path)  # noqa: PTH119
    assert mine.path.is_dir() and (tmp_path / "mine.wav").exists()
    children[1].kill()
    for child in children:
        child.wait()
        assert child.stdout is not None
        child.stdout.close()
    mine.close()
    other.close()
    clear_abandoned(tmp_path)
    assert names(tmp_path) == ["mine.wav"]


def test_the_engine_clears_before_it_writes_and_takes_its_own_away(tmp_path: Path) -> None:
    old = tmp_path / "take-of a version that held none"
    old.mkdir()
    (old / "samples.f32").write_bytes(bytes(1000))
    before = time.time() - 2 * UNTOUCHED
    os.utime(old, (before, before))
    new = tmp_path / "take-just made"
    new.mkdir()
    engine = Engine(folder=tmp_path)
    engine.start(np.zeros(4800), 48_000)
    assert not old.exists() and new.exists()
    assert len(names(tmp_path)) == 2
    engine.close()
    assert names(tmp_path) == ["take-just made"]


def test_a_link_is_never_followed(tmp_path: Path) -> None:
    (tmp_path / "hers").mkdir()
    (tmp_path / "hers" / "film.mp4").write_bytes(b"film")
    within = tmp_path / "live"
    within.mkdir()
    (within / "take-x").symlink_to(tmp_path / "hers")
    before = time.time() - 2 * UNTOUCHED
    os.utime(tmp_path / "hers", (before, before))
    clear_abandoned(within)
    assert (tmp_path / "hers" / "film.mp4").exists()


def test_without_locks_only_what_nobody_touched_for_long_is_cleared(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(samples, "find_spec", lambda _: None)
    folder = SamplesFolder(tmp_path)
    clear_abandoned(tmp_path)
    assert folder.path.is_dir()
    before = time.time() - 2 * UNTOUCHED
    os.utime(folder.path, (before, before))
    clear_abandoned(tmp_path)
    assert names(tmp_path) == []
