"""Tables of a million rows, as sensors write them and as they come when something is wrong: time and memory."""

from __future__ import annotations

import subprocess
import sys
import tempfile
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from tests.benchmarks.table import Row

if TYPE_CHECKING:
    from collections.abc import Iterator

ROWS = 1_000_000
_READ = """
import sys, time
from tempo_coach.errors import CoachError
from tempo_coach.observe.trace.tables import read_trace
begin = time.process_time()
try:
    read_trace(sys.argv[1])
except CoachError:
    pass
status = dict(line.split(":", 1) for line in open("/proc/self/status"))
print(time.process_time() - begin, int(status["VmHWM"].split()[0]) / 1024)
"""


def run() -> Iterator[Row]:
    """Yield CPU seconds and the most memory of reading each kind of table in a fresh process (Linux)."""
    time = np.arange(ROWS) / 1000
    moved = np.column_stack([np.sin(5 * time), np.cos(5 * time)])
    rows = [f"{t:.3f},{x:.5f},{y:.5f}" for t, (x, y) in zip(time.tolist(), moved.tolist(), strict=True)]
    half = ROWS // 2
    kinds = {
        "plain": ("time,x_m,y_m", rows),
        "decimal commas": ("Zeit;x (m);y (m)", [row.replace(",", ";").replace(".", ",") for row in rows]),
        "one row in fifty a cell short": (
            "time,x_m,y_m",
            [row[:-8] if k % 50 == 0 else row for k, row in enumerate(rows)],
        ),
        "one cell a word": ("time,x_m,y_m", [*rows[:half], "500.000,1.0,error", *rows[half + 1 :]]),
        "long, two points": (
            "time,x_m,y_m,point",
            [f"{row},{point}" for row in rows[:half] for point in ("left", "right")],
        ),
        "only words": ("time,x_m,y_m", ["here,there,nowhere"] * ROWS),
    }
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "table.csv"
        for name, (header, lines) in kinds.items():
            path.write_text("\n".join([header, *lines]), encoding="utf-8")
            read = [sys.executable, "-c", _READ, str(path)]
            said = subprocess.run(read, check=True, capture_output=True, text=True).stdout.split()
            yield Row(f"{ROWS:,} rows, {name}: CPU", float(said[0]), "s", floor=15)
            yield Row(f"{ROWS:,} rows, {name}: memory", float(said[1]), "MiB", floor=700)
