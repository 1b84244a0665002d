"""Screens killed at random moments: a practice with keys pressed all along, and counts that are set and saved.

Both run in a pseudo-terminal, on a sound server of the benchmark's own where there is one. ``TEMPO_COACH_KILLS`` is the
number of kills of each.
"""

from __future__ import annotations

import contextlib
import json
import os
import tempfile
import time
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from tempo_coach.observe.take.take_file import read_take_file
from tempo_coach.observe.take.unfinished import FINISHED, find_unfinished, finish_broken_off
from tests.benchmarks.bench_kills import KILLS, SEED
from tests.benchmarks.table import Row
from tests.generators import workplace
from tests.live.sound_server import SoundServer, missing_part
from tests.ui.test_counts_terminal import LEAVE, RIGHT, SAVE
from tests.ui.test_terminal import Terminal

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

#: Seconds that an onset may be young and not yet in its file: a picture, and a round of the thread that writes.
YOUNG = 0.3
#: Seconds between two keys; a stamp is a key's when it lies this near.
STEP, SAME = 0.15, 0.06
#: Seconds in which the processes of a killed program have gone.
GONE = 5.0
#: What is pressed in the screen of the counts: a count comes later, and it is saved.
EDITS = (RIGHT, "l", "L", SAVE, RIGHT, RIGHT, "l", SAVE)


@dataclass
class Killed:
    """What came of the kills of one screen.

    Parameters
    ----------
    early : int
        Kills before its end.
    half, lost, processes : int
        Files that nobody can read; keys, or what was told as saved, that are not there; programs that stayed.
    """

    early: int = 0
    half: int = 0
    lost: int = 0
    keys: int = 0
    processes: int = 0


def run() -> Iterator[Row]:
    """Yield the kills of both, and what was half written, lost or left behind."""
    generator = np.random.default_rng(SEED)
    with tempfile.TemporaryDirectory(prefix="kills-") as made, contextlib.ExitStack() as ends:
        folder = Path(made)
        own = {name: str(folder / name.lower()) for name in ("XDG_CACHE_HOME", "XDG_DATA_HOME", "TMPDIR")}
        for each in own.values():
            Path(each).mkdir()
        device = ["--device", "none"]
        if missing_part() is None:
            (folder / "sound").mkdir()
            server = SoundServer(folder / "sound")
            server.start()
            ends.callback(server.kill)
            ends.enter_context(server.recording())
            own, device = own | server.environment, []
        practised, left = _kill_practice(folder, own, device, generator)
        yield from _tell(f"practise{' without sound' if device else ''}", practised, left)
        workplace.fill(folder)
        counted, left = _kill_counts(folder, own, generator)
        yield from _tell("counts", counted, left)


def _tell(name: str, killed: Killed, left: set[str]) -> Iterator[Row]:
    yield Row(f"kills of {name} that came before its end, of {KILLS}", killed.early, "kills")
    if killed.keys:
        yield Row(f"{name}: keys pressed {YOUNG:g} s and more before", killed.keys)
    yield Row(f"{name}: files half written", killed.half, "", floor=0)
    yield Row(f"{name}: keys, or what was told as saved, lost", killed.lost, "", floor=0)
    yield Row(f"{name}: processes that stayed", killed.processes, "", floor=0)
    yield Row(
        f"{name}: files left after the next start{': ' + ' '.join(sorted(left)) if left else ''}", len(left), "", 0
    )


def _kill_practice(
    folder: Path, own: dict[str, str], device: list[str], generator: np.random.Generator
) -> tuple[Killed, set[str]]:
    killed, takes = Killed(), folder / "takes"

    def start(take: Path) -> Terminal:
        words = [
            "practise",
            "clubs_mills",
            "--tempo",
            "200",
            "--cycles",
            "6",
            "--now",
            "--keys",
            "jf",
            "--take",
            str(take),
        ]
        return Terminal(*words, *device, **own)

    def play(terminal: Terminal, until: float) -> list[float]:
        """Press keys from the first picture of the take on; when each was."""
        pressed: list[float] = []
        while time.monotonic() < until and b" again" not in terminal.drawn and _is_there(terminal.pid):
            terminal.read(min(STEP, max(until - time.monotonic(), 0.0)))
            if b"next in" in terminal.drawn:
                pressed.append(time.perf_counter())
                terminal.press(b"jf"[len(pressed) % 2 :][:1])
        return pressed

    begin = time.monotonic()
    terminal = start(takes / "whole.take.jsonl")
    play(terminal, begin + 120)
    took = time.monotonic() - begin
    terminal.press(b"\x11")
    terminal.end()
    names = _names(folder)
    for k, after in enumerate(generator.uniform(0, took, KILLS)):
        take = takes / f"{k}.take.jsonl"
        terminal = start(take)
        pressed = play(terminal, time.monotonic() + float(after))
        killed.early += b" again" not in terminal.drawn
        at = time.perf_counter()
        terminal.kill()
        killed.processes += _stay(folder)
        stamps, whole, over = _read(take)
        killed.half += not whole
        old = [each for each in pressed if each < at - YOUNG]
        killed.keys += len(old)
        # once the take is over keys are none of it
        last = max(stamps, default=-np.inf) if over else np.inf
        missing = [each for each in old if each <= last and not any(0 <= s - each < SAME + YOUNG for s in stamps)]
        killed.lost += len(missing)
        for broken in find_unfinished(takes):
            finish_broken_off(broken)
        killed.half += bool(find_unfinished(takes))
        take.unlink(missing_ok=True)
    terminal = start(takes / "after.take.jsonl")
    play(terminal, time.monotonic() + 120)
    terminal.press(b"\x11")
    terminal.end()
    return killed, _names(folder) - names - {"takes/after.take.jsonl", f"takes/{FINISHED}"}


def _read(take: Path) -> tuple[list[float], bool, bool]:
    """The stamps in a take's file, whether it can be read, its last line maybe cut, and whether the take was over."""
    if not take.exists() or not take.stat().st_size:
        return [], True, False
    *lines, last = take.read_text(encoding="utf-8").split("\n")
    try:
        rows = [json.loads(line) for line in lines]
        if rows:
            read_take_file(take)
    except ValueError:
        return [], False, False
    stamps = [row["stamp"] for row in rows if "stamp" in row]
    return stamps, bool(rows) or bool(last), bool(rows) and "end" in rows[-1]


def _kill_counts(folder: Path, own: dict[str, str], generator: np.random.Generator) -> tuple[Killed, set[str]]:
    killed, file = Killed(), folder / "routine.toml"
    old = file.read_bytes()

    def start() -> Terminal:
        return Terminal("counts", str(file), "--device", "none", **own)

    def edit(terminal: Terminal, until: float, note: Callable[[bytes], None] = lambda _: None) -> None:
        keys = list(EDITS)
        while time.monotonic() < until and keys:
            terminal.read(min(STEP, max(until - time.monotonic(), 0.0)))
            if b"count" in terminal.drawn and b"Ctrl" in terminal.drawn:
                terminal.press(keys.pop(0).encode())
                if not keys or keys[0] != SAVE:
                    terminal.read(STEP)
                    note(file.read_bytes())

    begin, states = time.monotonic(), [old]
    terminal = start()
    edit(terminal, begin + 120, states.append)
    terminal.wait_for(lambda: b"Saved in" in terminal.drawn)
    terminal.read(1.0)
    took = time.monotonic() - begin
    states.append(file.read_bytes())
    terminal.press(LEAVE.encode())
    terminal.end()
    valid, names = set(states), _names(folder)
    for after in generator.uniform(0, took, KILLS):
        file.write_bytes(old)
        terminal = start()
        until = time.monotonic() + float(after)
        edit(terminal, until)
        terminal.read(max(until - time.monotonic(), 0.0))
        killed.early += _is_there(terminal.pid)
        told = b"Saved in" in terminal.drawn
        terminal.kill()
        killed.processes += _stay(folder)
        found = file.read_bytes()
        killed.half += found not in valid
        killed.lost += told and found == old
    for path in folder.rglob(".*.part"):
        os.utime(path, (0, 0))  # as old as they are when somebody comes back to her work
    file.write_bytes(old)
    terminal = start()
    edit(terminal, time.monotonic() + 120)
    terminal.wait_for(lambda: b"Saved in" in terminal.drawn)
    terminal.press(LEAVE.encode())
    terminal.end()
    return killed, _names(folder) - names


def _names(folder: Path) -> set[str]:
    found = (path.relative_to(folder) for path in folder.rglob("*") if path.is_file())
    return {str(each) for each in found if each.parts[0] != "sound" and "__pycache__" not in each.parts}


def _is_there(process: int) -> bool:
    return os.waitid(os.P_PID, process, os.WEXITED | os.WNOHANG | os.WNOWAIT) is None


def _stay(folder: Path) -> int:
    """How many processes with this folder's environment are still there some seconds later."""
    end = time.monotonic() + GONE
    while (left := _ours(folder)) and time.monotonic() < end:
        time.sleep(0.05)
    return left


def _ours(folder: Path) -> int:
    mark, found = f"XDG_DATA_HOME={folder}".encode(), 0
    for process in Path("/proc").iterdir():
        if process.name.isdigit() and int(process.name) != os.getpid():
            with contextlib.suppress(OSError):
                found += mark in (process / "environ").read_bytes()
    return found
