"""A program that is killed while it writes: the file stays whole, and no take that was acknowledged is lost."""

import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

from tempo_coach.history.takes import History
from tests import HANG
from tests.history.season import make_take, put

#: Steps of SQLite's machine, spread evenly by their logarithm: a take needs some 400 of them.
POINTS = sorted({int(point) for point in np.geomspace(5, 3200, 20)})


@pytest.mark.skipif(sys.platform == "win32", reason="it forks")
def test_nothing_is_lost_at_any_of_twenty_points(tmp_path):
    root = Path(__file__).parents[2]
    command = [sys.executable, "-m", "tests.history.kill", tmp_path, *map(str, POINTS)]
    subprocess.run(command, cwd=root, check=True, timeout=5 * HANG)
    killed = 0
    for point in POINTS:
        told = (tmp_path / f"{point}.acknowledged").read_text().split()
        killed += "all" not in told
        acknowledged = [int(word) for word in told if word != "all"]
        with History(tmp_path / f"{point}.sqlite") as history:
            history.check()
            kept = [row.number for row in history.find()]
            assert kept[: len(acknowledged)] == acknowledged
            assert len(acknowledged) <= len(kept) <= len(acknowledged) + 1  # the last may have come to the disk unsaid
            for seed, number in enumerate(kept):
                take = history.take(number)
                assert np.array_equal(take.take.onsets.time, make_take(seed).onsets.time)
                assert [note.text for note in take.notes] == ["noted"]
            put(history, 30, begun="2032-01-01")  # and it goes on
    assert killed == len(POINTS)
