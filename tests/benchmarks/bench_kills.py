"""Commands killed at random moments: what was told as kept is kept, and no file is half written.

Each command is run once to its end, which gives its time and what it writes, and then killed at moments drawn evenly
from that time, over files that are there already. ``TEMPO_COACH_KILLS`` is the number of kills of each command.
"""

from __future__ import annotations

import os
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from tempo_coach.history.takes import History
from tests.benchmarks.table import Row
from tests.generators import workplace

if TYPE_CHECKING:
    from collections.abc import Iterator

KILLS = int(os.environ.get("TEMPO_COACH_KILLS", "24"))
SEED = 2031
OLD = b"what was there before"
#: Commands that write a file each, and those that put something into the history.
WRITING = {
    "cue": (["cue", "clubs_mills", "--tempo", "110", "--cycles", "12", "--out", "new.wav"], "new.wav"),
    "cut": (["cut", "music.mp3", "--keep", "1-3", "6-8", "--out", "new.flac"], "new.flac"),
    "listen": (["listen", "music.mp3", "--beats", "new.txt"], "new.txt"),
    "film": (["film", "mills.mp4", "--marker", "left=red", "--marker", "right=yellow", "--out", "new.csv"], "new.csv"),
    "report": (["report", "1", "--out", "new.html"], "new.html"),
    "share": (["share", "--export", "new.jsonl"], "new.jsonl"),
}
KEEPING = {
    "score --keep": ["score", "done.csv", "--plan", "plan.json", "--keep", "Ada"],
    "group --keep": ["group", "Ada=done.csv", "Bea=done.csv", "--plan", "plan.json", "--keep", "Juniors"],
    "share --merge": ["share", "--merge", "other.sqlite"],
}


@dataclass(frozen=True)
class Killed:
    """What came of the kills of one command.

    Parameters
    ----------
    killed : int
        Kills that came before its end.
    half, lost, left : int
        Files neither old nor new; what was told as kept and is not there; files left behind after the next run.
    """

    killed: int
    half: int
    lost: int
    left: int


def run() -> Iterator[Row]:
    """Yield the kills of each command, and over all of them what was half written, lost or left behind."""
    with tempfile.TemporaryDirectory() as made:
        folder = Path(made) / "work"
        prepare(folder)
        generator = np.random.default_rng(SEED)
        found = {name: _kill_writing(folder, *each, generator) for name, each in WRITING.items()}
        found |= {name: _kill_keeping(folder, words, generator) for name, words in KEEPING.items()}
    for name, each in found.items():
        yield Row(f"kills of {name} that came before its end, of {KILLS}", each.killed, "kills")
    for name, what in (
        ("half", "files half written"),
        ("lost", "told as kept and lost"),
        ("left", "files left behind"),
    ):
        worst = max(found, key=lambda each: getattr(found[each], name))
        count = sum(getattr(each, name) for each in found.values())
        yield Row(what + (f", most by {worst}" if count else ""), count, "", floor=0)


def prepare(folder: Path) -> None:
    """Put what the commands read into a folder, and a history with takes in it."""
    folder.mkdir()
    workplace.fill(folder)
    finish(folder, ["cue", "clubs_mills", "--tempo", "110", "--cycles", "12", "--out", "a.wav", "--plan", "plan.json"])
    from tempo_coach.pattern.plan.plan_file import read_plan

    moments = read_plan(folder / "plan.json").moments
    rows = zip(moments.time.tolist(), moments.hand, strict=True)
    (folder / "done.csv").write_text("time,hand\n" + "".join(f"{time},{hand}\n" for time, hand in rows))
    for name in ("other.sqlite", "history.sqlite"):
        for day in range(1, 13):
            words = [
                "score",
                "done.csv",
                "--plan",
                "plan.json",
                "--begun",
                f"2031-0{1 + len(name) % 5}-{day:02d}T18:00",
            ]
            finish(folder, [*words, "--keep", "Bea"], history=name)


def start(folder: Path, words: list[str], history: str = "history.sqlite") -> subprocess.Popen[bytes]:
    """Begin a command in a folder that is all it knows of the disk."""
    own = {name: str(folder / name.lower()) for name in ("XDG_CACHE_HOME", "XDG_DATA_HOME", "TMPDIR")}
    (folder / "tmpdir").mkdir(exist_ok=True)
    shutil.rmtree(folder / "xdg_cache_home", ignore_errors=True)
    environment = {**os.environ, **own, "TEMPO_COACH_HISTORY": str(folder / history)}
    command = [sys.executable, "-m", "tempo_coach.cli", *words]
    root = str(Path(__file__).parents[2])
    return subprocess.Popen(
        command, cwd=folder, env={**environment, "PYTHONPATH": root}, stdout=subprocess.PIPE, stderr=subprocess.PIPE
    )


def finish(folder: Path, words: list[str], history: str = "history.sqlite") -> float:
    """Run a command to its end; the seconds that it took."""
    begin = time.monotonic()
    running = start(folder, words, history)
    _, said = running.communicate()
    if running.returncode:
        raise RuntimeError(f"{' '.join(words)}: {said.decode()}")
    return time.monotonic() - begin


def _kill(folder: Path, words: list[str], after: float) -> tuple[bool, bytes]:
    """Return whether it was killed before its end, and what it had said by then."""
    running = start(folder, words)
    try:
        said, _ = running.communicate(timeout=after)
    except subprocess.TimeoutExpired:
        running.send_signal(signal.SIGKILL)
        said, _ = running.communicate()
    return running.returncode == -signal.SIGKILL, said


def names_in(folder: Path) -> set[str]:
    """Return the files of a folder; caches are no file of anybody's."""
    return {str(path.relative_to(folder)) for path in folder.rglob("*") if path.is_file() and "xdg_" not in str(path)}


def age(folder: Path) -> None:
    """Make all parts old, as they are when somebody comes back to her work."""
    for path in (*folder.rglob(".*.part"), *folder.rglob("tempo_coach_scratch_*")):
        os.utime(path, (0, 0))


def _kill_writing(folder: Path, words: list[str], name: str, generator: np.random.Generator) -> Killed:
    target = folder / name
    took = finish(folder, words)
    whole, names = target.read_bytes(), names_in(folder)
    killed = half = 0
    for after in generator.uniform(0, took, KILLS):
        target.write_bytes(OLD)
        early, _ = _kill(folder, [*words, "--force"], after)
        killed += early
        half += target.read_bytes() != OLD if early and not _is_whole(target, whole) else False
    age(folder)
    finish(folder, [*words, "--force"])
    left = len(names_in(folder) - names)
    target.unlink()
    return Killed(killed, half, 0, left)


def _is_whole(target: Path, whole: bytes) -> bool:
    """Whether it is what an undisturbed run wrote; what carries its own time differs in that alone."""
    found = target.read_bytes()
    return found == whole or (len(found) == len(whole) and found[-64:] == whole[-64:])


def _kill_keeping(folder: Path, words: list[str], generator: np.random.Generator) -> Killed:
    shutil.copy(folder / "history.sqlite", folder / "before.sqlite")
    took = finish(folder, words)
    before, whole, names = (
        count_takes(folder / "before.sqlite"),
        count_takes(folder / "history.sqlite"),
        names_in(folder),
    )
    killed = half = lost = 0
    for after in generator.uniform(0, took, KILLS):
        for path in folder.glob("history.sqlite*"):
            path.unlink()
        shutil.copy(folder / "before.sqlite", folder / "history.sqlite")
        early, said = _kill(folder, words, after)
        killed += early
        found = count_takes(folder / "history.sqlite")
        half += found not in (before, whole)
        told = b"Kept" in said or (words[0] == "share" and bool(said))
        lost += told and found != whole
    for path in folder.glob("history.sqlite*"):
        path.unlink()
    shutil.copy(folder / "before.sqlite", folder / "history.sqlite")
    age(folder)
    finish(folder, words)
    left = names_in(folder) - names
    if left:
        print(f"  left by {words[0]}: {', '.join(sorted(left))}")
    return Killed(killed, half, lost, len(left))


def count_takes(path: Path) -> int:
    """Return how many takes a history has, which is read whole."""
    with History(path) as history:
        history.check()
        return len(history.find())
