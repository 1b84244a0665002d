"""Every reader against files that are damaged for a while: no traceback, no hang, memory bounded.

Each kind of file is searched in a process of its own. With atheris (``pip install atheris`` where it has a wheel for
the running Python) the search follows the branches that the program takes; without it, changes are drawn at random.
``SECONDS_FOR_EACH=300 python -m tests.benchmarks fuzz`` searches longer.
"""

from __future__ import annotations

import contextlib
import importlib.util
import json
import os
import random
import resource
import subprocess
import sys
import tempfile
import time
import traceback
from pathlib import Path
from typing import TYPE_CHECKING

from tests.benchmarks.table import Row

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

SECONDS = float(os.environ.get("SECONDS_FOR_EACH", "20"))
#: A file is small here, so whatever takes longer than this would hang with a real one.
LONGEST = 5.0
#: Megabytes that reading a file of some kilobytes may add to what the program takes anyway.
MOST_MEMORY = 512.0
PIECES = (b"\x00", b"\xff\xff\xff\xff", b"\x7f\xff\xff\xff", b"1e999", b"-1", b"nan", b"[]", b'"', b"\n", b"9" * 400)


def run() -> Iterator[Row]:
    """Yield for each kind of file how many were read, what came of them, the slowest and the memory."""
    from tests.generators.whole_files import KINDS

    with_atheris = importlib.util.find_spec("atheris") is not None
    yield Row("searched by atheris (1) or at random (0)", float(with_atheris), "")
    for kind in KINDS:
        with tempfile.TemporaryDirectory() as folder:
            command = [sys.executable, "-m", "tests.benchmarks.bench_fuzz", kind, folder, str(SECONDS)]
            done = subprocess.run(command, check=False, capture_output=True, timeout=SECONDS * 3 + 120)
            report = Path(folder) / "report.json"
            said = json.loads(report.read_text(encoding="utf-8")) if report.exists() else {}
            for trace in said.get("traces", []):
                print(trace, file=sys.stderr)
            died = done.returncode != 0
            if died:
                print(done.stderr.decode(errors="replace")[-2000:], file=sys.stderr)
        yield Row(f"{kind}: files read", said.get("files", 0), "files")
        yield Row(f"{kind}: tracebacks, or a process that died", len(said.get("traces", [])) + died, "", floor=0)
        yield Row(f"{kind}: slowest", said.get("slowest", 0.0), "s", floor=LONGEST)
        yield Row(f"{kind}: memory added", said.get("memory", 0.0), "MB", floor=MOST_MEMORY)


class Search:
    """Reads damaged files of one kind, and keeps what came of it where the parent process finds it."""

    def __init__(self, read: Callable[[Path], object], ending: str, folder: Path, seconds: float) -> None:
        self.read, self.folder = read, folder
        self.path = folder / f"x{ending}"
        self.until = time.monotonic() + seconds
        self.said: dict = {"files": 0, "slowest": 0.0, "memory": 0.0, "traces": []}
        self.seen: set[str] = set()
        self.memory = _memory()
        self.saved = 0.0

    def __call__(self, content: bytes) -> None:
        """Read one file; nothing that is found ends the search."""
        from tests.generators.whole_files import read_or_say

        self.path.write_bytes(content)
        begin = time.monotonic()
        try:
            read_or_say(self.read, self.path)
        except Exception as error:  # noqa: BLE001 - whatever it is, it is what is looked for
            last = traceback.extract_tb(error.__traceback__)[-1]
            place = f"{last.filename}:{last.lineno}:{type(error).__name__}"
            if place not in self.seen:
                self.seen.add(place)
                self.said["traces"].append("".join(traceback.format_exception(error)))
                self._keep(content, "traceback")
        took = time.monotonic() - begin
        self.said["files"] += 1
        if took > self.said["slowest"]:
            self.said["slowest"] = took
            if took > LONGEST:
                self._keep(content, "slow")
        grown = _memory() - self.memory
        if grown > MOST_MEMORY >= self.said["memory"]:
            self._keep(content, "large")
        self.said["memory"] = grown
        if time.monotonic() > self.saved + 1 or time.monotonic() > self.until:
            self.saved = time.monotonic()
            (self.folder / "report.json").write_text(json.dumps(self.said), encoding="utf-8")
        if time.monotonic() > self.until:
            os._exit(0)  # a search by atheris has no other way out

    def _keep(self, content: bytes, what: str) -> None:
        """Keep the file that shows it, outside the folder that is deleted."""
        with contextlib.suppress(KeyError):
            name = f"{what}_{len(self.said['traces'])}{self.path.suffix}"
            (Path(os.environ["KEEP_FOUND"]) / name).write_bytes(content)


def _memory() -> float:
    """The most that this process has held so far, in MB."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


def search(kind: str, folder: Path, seconds: float) -> None:
    """Search one kind of file for a while, then end the process."""
    try:
        import atheris
    except ImportError:
        atheris = None
    instrumented = atheris.instrument_imports(include=["tempo_coach"]) if atheris else contextlib.nullcontext()
    with instrumented:
        from tests.generators.whole_files import KINDS, damage, whole
    content = whole(kind)
    path = folder / f"whole{KINDS[kind].ending}"
    path.write_bytes(content)
    KINDS[kind].read(path)  # what is imported late is no memory of the search
    work = folder / "work"
    work.mkdir()
    one = Search(KINDS[kind].read, KINDS[kind].ending, work, seconds)
    one.folder = folder
    if atheris:
        corpus = folder / "corpus"
        corpus.mkdir()
        (corpus / "whole").write_bytes(content)
        longest = f"-max_len={2 * len(content) + 4096}"
        atheris.Setup(["fuzz", str(corpus), "-rss_limit_mb=4096", "-timeout=60", longest, "-verbosity=0"], one)
        atheris.Fuzz()
    draw = random.Random(1)
    while True:
        changes = [
            (draw.random(), draw.randrange(40), draw.choice((*PIECES, draw.randbytes(draw.randrange(8)))))
            for _ in range(draw.randint(1, 6))
        ]
        one(damage(content, changes))


if __name__ == "__main__":
    search(sys.argv[1], Path(sys.argv[2]), float(sys.argv[3]))
