"""Every option of every command given what nobody should give it: no traceback, no hang, memory bounded, nothing lost.

Options and commands come from the parser, so that a new one is covered by itself. Each command is tried in a process
of its own, which makes a copy of itself for each case, with a limit of time, memory and size of files.
``SECONDS_FOR_EACH=3600 python -m tests.benchmarks hostile`` tries them all.
"""

from __future__ import annotations

import contextlib
import json
import os
import random
import resource
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from typing import TYPE_CHECKING

from tests.benchmarks.table import Row

if TYPE_CHECKING:
    from collections.abc import Iterator

    from tests.generators.hostile import Case

SECONDS = float(os.environ.get("SECONDS_FOR_EACH", "20"))
#: Seconds and megabytes that no command may take for what makes no sense.
LONGEST, MOST_MEMORY = 20.0, 1024.0
#: Seconds after which a command is ended that does not end.
PATIENCE = 3 * LONGEST
#: Where a command is stopped, so that a fault does no harm to the machine: bytes of address space, and of a file.
MOST_SPACE, MOST_FILE = 6 << 30, 1 << 28
#: Exit codes that a command may have.
CODES = (0, 1, 2)
#: What stands for an end that no sentence told.
BUG = 99


def run() -> Iterator[Row]:
    """Yield for each command how many cases were tried and how the worst of them went."""
    from tempo_coach.cli import COMMANDS

    for command in COMMANDS:
        with tempfile.TemporaryDirectory() as folder:
            words = [sys.executable, "-m", "tests.benchmarks.bench_hostile", command, folder, str(SECONDS)]
            done = subprocess.run(words, check=False, capture_output=True, timeout=SECONDS + 180)
            report = Path(folder) / "report.json"
            if not report.exists():
                print(done.stderr.decode(errors="replace")[-2000:], file=sys.stderr)
                yield Row(f"{command}: not tried", 1, "", floor=0)
                continue
            said = json.loads(report.read_text(encoding="utf-8"))
        for wrong in said["wrong"]:
            print(f"  {wrong}", file=sys.stderr)
        yield Row(f"{command}: cases of {said['all']}", said["cases"], "cases")
        yield Row(f"{command}: without a sentence, or with a file lost", len(said["wrong"]), "", floor=0)
        yield Row(f"{command}: slowest", said["slowest"], "s", floor=LONGEST)
        yield Row(f"{command}: most memory", said["memory"], "MB", floor=MOST_MEMORY)


class Trial:
    """Tries cases in copies of this process, and keeps what was wrong with them."""

    def __init__(self, folder: Path) -> None:
        from tests.generators.hostile import furnish

        self.folder = folder
        self.whole, self.work, self.said = folder / "whole", folder / "work", folder / "said"
        self.whole.mkdir()
        furnish(self.whole)
        self.report: dict = {"cases": 0, "slowest": 0.0, "memory": 0.0, "wrong": []}
        self._lay_out()

    def _lay_out(self) -> None:
        """Put the folder in order again."""
        shutil.rmtree(self.work, ignore_errors=True)
        self.work.mkdir()
        subprocess.run(["cp", "-a", "--sparse=always", f"{self.whole}/.", str(self.work)], check=True)
        self.there = self._look()

    def _look(self) -> dict[str, tuple[int, int]]:
        return {
            entry.name: (entry.stat(follow_symlinks=False).st_size, entry.stat(follow_symlinks=False).st_mtime_ns)
            for entry in os.scandir(self.work)
            if not entry.name.startswith("history.sqlite")  # which commands write to
        }

    def try_one(self, case: Case) -> None:
        """Run one command line and note how it went."""
        begin = time.monotonic()
        child = os.fork()
        if child == 0:
            self._be(case)
        status, took, memory = self._wait(child, begin)
        told = self.said.read_text(encoding="utf-8", errors="replace")
        code = os.waitstatus_to_exitcode(status)
        found = []
        if took > LONGEST:
            found.append(f"{took:.0f} s")
        if memory > MOST_MEMORY:
            found.append(f"{memory:.0f} MB")
        if code not in CODES:
            found.append(f"code {code}: {told[-1500:]}")
        now = self._look()
        lost = [name for name, seen in self.there.items() if now.get(name) != seen]
        if lost:
            found.append(f"changed {', '.join(lost)}")
        if now != self.there or "history" in case.command or case.command == "forget":
            self._lay_out()
        if found:
            shown = " ".join(word if len(word) < 40 else f"{word[:40]}…" for word in case.words)
            self.report["wrong"].append(f"{shown!r}: {'; '.join(found)}")
        self.report["cases"] += 1
        self.report["slowest"] = max(self.report["slowest"], took)
        self.report["memory"] = max(self.report["memory"], memory)

    def _wait(self, child: int, begin: float) -> tuple[int, float, float]:
        """Wait for a copy, and end it with whatever it has started when its time is over.

        A machine that others use too is no fault of the command: what counts is the time that it worked, or all of it
        where it waits for what never comes.
        """
        while True:
            done, status, used = os.wait4(child, os.WNOHANG)
            if done:
                worked = used.ru_utime + used.ru_stime
                whole = time.monotonic() - begin
                return status, whole if whole > PATIENCE else worked, used.ru_maxrss / 1024
            if time.monotonic() - begin > PATIENCE:
                with contextlib.suppress(ProcessLookupError):
                    os.killpg(child, signal.SIGKILL)
            time.sleep(0.002)

    def _be(self, case: Case) -> None:
        """What a copy does; it never comes back."""
        code = BUG
        try:
            os.setsid()
            os.chdir(self.work)
            nothing = os.open(os.devnull, os.O_RDONLY)
            said = os.open(self.said, os.O_WRONLY | os.O_CREAT | os.O_TRUNC)
            for number, into in ((nothing, 0), (said, 1), (said, 2)):
                os.dup2(number, into)
            resource.setrlimit(resource.RLIMIT_AS, (MOST_SPACE, MOST_SPACE))
            resource.setrlimit(resource.RLIMIT_FSIZE, (MOST_FILE, MOST_FILE))
            from tempo_coach.cli import main

            try:
                code = main(list(case.words))
            except SystemExit as left:
                code = left.code if isinstance(left.code, int) else BUG
        except BaseException:  # noqa: BLE001 - whatever it is, it is what is looked for
            import traceback

            traceback.print_exc()
        finally:
            with contextlib.suppress(Exception):
                sys.stdout.flush()
                sys.stderr.flush()
            os._exit(code)


def preload() -> None:
    """Import what commands import late, so that each copy has it; open no screen in any of them."""
    import librosa
    import librosa.feature
    import scipy.signal

    import tempo_coach.ui.terminal as terminal
    from tempo_coach import coach
    from tempo_coach.cli import COMMANDS, main
    from tests.generators.hostile import ways

    assert librosa and librosa.feature and scipy.signal and coach and COMMANDS and main and ways

    def opened(*_: object, **__: object) -> None:
        sys.exit(0)  # what a screen does with its keys is the business of others

    terminal.check_terminal = lambda **_: None
    terminal.run_screens = terminal.run_counts = terminal.run_app = opened


def search(command: str, folder: Path, seconds: float) -> None:
    """Try the cases of one command in a drawn order, until there is none left or the time is over."""
    from tests.generators.hostile import cases

    os.environ["TEMPO_COACH_HISTORY"] = str(folder / "work" / "history.sqlite")
    for name in ("XDG_CACHE_HOME", "XDG_DATA_HOME", "TMPDIR"):
        (folder / name).mkdir()
        os.environ[name] = str(folder / name)
    preload()
    trial = Trial(folder)
    drawn = [case for case in cases() if case.command == command]
    random.Random(1).shuffle(drawn)
    trial.report["all"] = len(drawn)
    until = time.monotonic() + seconds
    for case in drawn:
        trial.try_one(case)
        (folder / "report.json").write_text(json.dumps(trial.report), encoding="utf-8")
        if time.monotonic() > until:
            break


if __name__ == "__main__":
    search(sys.argv[1], Path(sys.argv[2]), float(sys.argv[3]))
