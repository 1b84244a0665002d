"""Keys in a real pseudo-terminal, by the reader in a process of its own and without it."""

from __future__ import annotations

import json
import os
import signal
import time
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from tempo_coach.live.practice.hand_keys import RESERVED_KEYS
from tempo_coach.ui.app import CoachApp
from tempo_coach.ui.keyboard import find_driver
from tempo_coach.ui.practice.practise import PractiseScreen
from tests import HANG
from tests.ui.test_terminal import Terminal

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

pytest.importorskip("termios", reason="this system has no terminals of that kind")


@pytest.fixture
def start(tmp_path: Path) -> Iterator[Callable[..., tuple[Terminal, Path]]]:
    opened: list[Terminal] = []

    def open_one(**environment: str) -> tuple[Terminal, Path]:
        take = tmp_path / "x.take.jsonl"
        terminal = Terminal(
            "practise", "clubs_mills", "--tempo", "240", "--cycles", "40", "--device", "none", "--now", "--keys", "jf",
            "--take", str(take), XDG_DATA_HOME=str(tmp_path), **environment,
        )  # fmt: skip
        opened.append(terminal)
        terminal.wait_for(lambda: b"next in" in terminal.drawn)
        return terminal, take

    yield open_one
    for terminal in opened:
        terminal.kill()


def readers_of(pid: int) -> list[int]:
    """Processes that a process started to read keys."""
    children = Path(f"/proc/{pid}/task").glob("*/children")
    found = [int(child) for each in children for child in each.read_text().split()]
    return [child for child in found if b"key_reader" in Path(f"/proc/{child}/cmdline").read_bytes()]


def gone(pid: int) -> bool:
    end = time.monotonic() + HANG
    while time.monotonic() < end:
        try:
            os.kill(pid, 0)
            if " Z " in Path(f"/proc/{pid}/stat").read_text():
                return True
        except (ProcessLookupError, FileNotFoundError):
            return True
        time.sleep(0.02)
    return False


def tap(terminal: Terminal, take: Path) -> None:
    """Press keys, and see that each was stamped when it was pressed, before what came after it."""
    pressed = []
    for key in b"jfjjff":
        pressed.append(time.perf_counter())
        terminal.press(bytes([key]))
        terminal.read(0.15)
    terminal.wait_for(lambda: take.read_bytes().count(b'"stamp"') == len(pressed))
    rows = [json.loads(line) for line in take.read_text().splitlines()[1:]]
    assert [row["hand"] for row in rows] == ["right", "left", "right", "right", "left", "left"]
    for row, before in zip(rows, pressed, strict=True):
        assert before < row["stamp"]


@pytest.mark.skipif(not Path("/proc/self/task").exists(), reason="this system does not list a process's children so")
def test_keys_are_stamped_by_a_process_of_their_own_that_goes_with_the_program(
    start: Callable[..., tuple[Terminal, Path]],
) -> None:
    terminal, take = start()
    (reader,) = readers_of(terminal.pid)
    tap(terminal, take)
    os.kill(terminal.pid, signal.SIGKILL)
    assert gone(reader), "it would take keys from the shell"


@pytest.mark.skipif(not Path("/proc/self/task").exists(), reason="this system does not list a process's children so")
def test_a_reader_that_ends_is_replaced_by_the_usual_way(start: Callable[..., tuple[Terminal, Path]]) -> None:
    terminal, take = start()
    (reader,) = readers_of(terminal.pid)
    os.kill(reader, signal.SIGKILL)
    assert gone(reader)
    terminal.read(0.3)
    tap(terminal, take)
    terminal.press(b"\x11")
    assert terminal.end() == 0


def test_where_no_reader_can_be_had_keys_are_read_in_the_usual_way(
    start: Callable[..., tuple[Terminal, Path]], tmp_path: Path
) -> None:
    (tmp_path / "sitecustomize.py").write_text(
        "import tempo_coach.ui.keyboard as keyboard\nkeyboard.KeyReader.start = classmethod(lambda *_: None)\n"
    )
    terminal, take = start(PYTHONPATH=str(tmp_path))
    tap(terminal, take)
    terminal.press(b"\x11")
    assert terminal.end() == 0


def test_without_a_terminal_nothing_is_replaced(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("sys.__stdin__", None)
    assert find_driver() is None


def test_no_command_key_of_a_running_take_is_a_hands_key() -> None:
    keys = {
        key.strip()
        for bindings in (PractiseScreen.BINDINGS, CoachApp.BINDINGS)
        for binding in bindings
        for key in (binding[0] if isinstance(binding, tuple) else binding.key).split(",")
    }
    assert keys and all(len(key) > 1 for key in keys)
    assert {"enter", "escape", "tab"} <= RESERVED_KEYS
