"""Commands and screens on a full disk, and killed on a slow one: nothing lost, nothing half written, one sentence.

``TEMPO_COACH_KILLS`` is the number of kills of each on the slow disk. The full one is a small file system in memory,
which only root may make; the slow one holds up what the program's own calls write.
"""

from __future__ import annotations

import os
import shutil
import tempfile
import time
from pathlib import Path
from typing import TYPE_CHECKING

from tests.benchmarks import bench_kills, bench_kills_in_terminal
from tests.benchmarks.bench_kills import KEEPING, OLD, WRITING, age, count_takes, finish, names_in, prepare, start
from tests.benchmarks.table import Row
from tests.generators.disks import filled, make_slow, small_disk
from tests.ui.test_counts_terminal import LEAVE, SAVE
from tests.ui.test_terminal import Terminal

if TYPE_CHECKING:
    from collections.abc import Iterator

#: MiB of the small disk, and bytes that are free on it.
SIZE, FREE = 96, (0, 4096, 65_536, 524_288, 2_097_152)
#: Seconds of practice on a full disk.
PRACTISED = 6.0
#: Seconds within which something has been said, also beside eight busy processes.
SAID_WITHIN = 40.0


def run() -> Iterator[Row]:
    """Yield what a full disk did, then the kills on a slow one."""
    with tempfile.TemporaryDirectory(prefix="disks-") as made:
        folder = Path(made)
        with small_disk(folder / "small", SIZE) as works:
            if works:
                yield from _full(folder / "small" / "work")
            else:
                yield Row("full disk not measured: it takes root to make one", float("nan"))
        slow = make_slow(folder)
        if slow is None:
            yield Row("slow disk not measured: no C compiler here", float("nan"))
            return
        before = os.environ.get("LD_PRELOAD")
        os.environ["LD_PRELOAD"] = slow
        try:
            for row in (*bench_kills.run(), *bench_kills_in_terminal.run()):
                yield Row(f"slow disk: {row.what}", row.value, row.unit, row.floor)
        finally:
            del os.environ["LD_PRELOAD"]
            if before is not None:
                os.environ["LD_PRELOAD"] = before


def _full(folder: Path) -> Iterator[Row]:
    prepare(folder)
    refused = silent = half = lost = left = runs = 0
    said, lasting = set[str](), set[str]()
    for name, (words, target) in {**WRITING, **{key: (words, "") for key, words in KEEPING.items()}}.items():
        for free in FREE:
            names, before = names_in(folder), folder / "before.sqlite"
            shutil.copy(folder / "history.sqlite", before)
            if target:
                (folder / target).write_bytes(OLD)
            with filled(folder, free=free):
                running = start(folder, [*words, "--force"] if target else words)
                out, errors = running.communicate()
            runs += 1
            code = running.returncode
            refused += code == 1
            sentences = [line for line in errors.decode().splitlines() if line.startswith("tempo-coach: ")]
            silent += code not in (0, 1) or b"Traceback" in errors or (code == 1 and len(sentences) != 1)
            if code not in (0, 1) or b"Traceback" in errors:
                said.add(f"{name} with {free}: {errors.decode()[-200:]}")
            if target:
                found = (folder / target).read_bytes()
                half += found != OLD if code else found == OLD
            else:
                takes = count_takes(folder / "history.sqlite")
                half += code == 1 and takes != count_takes(before)
                lost += b"Kept" in out and takes == count_takes(before)
            for path in folder.glob("history.sqlite*"):
                path.unlink()
            shutil.copy(before, folder / "history.sqlite")
            before.unlink()
            lasting |= names_in(folder) - names
        # what is left by now the next one has to clear, when it is old
        age(folder)
        finish(folder, [*words, "--force"] if target else words)
        new = names_in(folder) & lasting if not target else (names_in(folder) & lasting) - _written(folder, target)
        if new:
            said.add(f"left by {name}: {' '.join(sorted(new))}")
        left += len(new)
        lasting.clear()
    for each in sorted(said):
        print(f"  {each}")
    yield Row(f"full disk: runs of {len(WRITING) + len(KEEPING)} commands", runs)
    yield Row("full disk: refused", refused)
    yield Row("full disk: without one sentence", silent, "", floor=0)
    yield Row("full disk: files or histories neither old nor whole", half, "", floor=0)
    yield Row("full disk: told as kept and lost", lost, "", floor=0)
    yield Row("full disk: files left behind", left, "", floor=0)
    yield from _full_screens(folder)


def _wait_for(terminal: Terminal, words: bytes) -> bytes:
    """Return what was drawn, once the words are there, or after a time in which a busy machine would have said them."""
    end = time.monotonic() + SAID_WITHIN
    while words not in terminal.drawn and time.monotonic() < end:
        terminal.read(0.5)
    return terminal.drawn


def _written(folder: Path, target: str) -> set[str]:
    """What a command that succeeds writes: its output, and what is named like it."""
    return {path.name for path in folder.glob(f"{Path(target).stem}.*")}


def _full_screens(folder: Path) -> Iterator[Row]:
    own = {name: str(folder / name.lower()) for name in ("XDG_CACHE_HOME", "XDG_DATA_HOME", "TMPDIR")}
    words = ["practise", "clubs_mills", "--tempo", "200", "--cycles", "40", "--now", "--keys", "jf", "--device", "none"]
    take = folder / "x.take.jsonl"
    with filled(folder, free=0):
        terminal = Terminal(*words, "--take", str(take), **own)
        terminal.wait_for(lambda: b"next in" in terminal.drawn or b"tempo-coach: " in terminal.drawn)
        for k in range(round(PRACTISED / 0.2)):
            terminal.read(0.2)
            terminal.press(b"jf"[k % 2 :][:1])
        terminal.press(b"\r")
        drawn = _wait_for(terminal, b"memory")
        terminal.press(b"\x11")
        terminal.read(1.0)
        terminal.press(b"\x11")
        code = terminal.end()
    yield Row("full disk: practise ended with", code, "", floor=0)
    yield Row("full disk: practise said that it is not on the disk", b"memory" in drawn, "of 1", 1, better="high")
    file = folder / "routine.toml"
    old = file.read_bytes()
    with filled(folder, free=0):
        terminal = Terminal("counts", str(file), "--device", "none", **own)
        terminal.wait_for(lambda: b"Ctrl" in terminal.drawn)
        terminal.press(b"lL" + SAVE.encode())
        drawn = _wait_for(terminal, b"cannot be")
        terminal.press(LEAVE.encode())
        terminal.read(0.5)
        terminal.press(LEAVE.encode())
        code = terminal.end()
    yield Row("full disk: counts ended with", code, "", floor=0)
    yield Row("full disk: counts said that it is not saved", b"cannot be" in drawn, "of 1", 1, better="high")
    yield Row("full disk: the routine is not as it was", file.read_bytes() != old, "", floor=0)
