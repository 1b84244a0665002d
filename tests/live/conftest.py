"""A sound server for the tests that need one, on a null sink, ended by its own process id."""

from __future__ import annotations

import os
import tempfile
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from tests.conftest import skip_for_missing_part
from tests.live.sound_server import SoundServer, missing_part

if TYPE_CHECKING:
    from collections.abc import Iterator


#: Niceness of tests that play: as near to the front as the system has it without a real-time class.
IN_FRONT = -15


@contextmanager
def before_other_work() -> Iterator[None]:
    """Let this thread and all that it starts go before other work of the machine, where the system allows that.

    The tests ask what the program does when sound is lost; that a busy neighbour makes it lose sound is not the
    question.
    """
    before = os.getpriority(os.PRIO_PROCESS, 0)
    with suppress(PermissionError):
        os.setpriority(os.PRIO_PROCESS, 0, IN_FRONT)
    try:
        yield
    finally:
        with suppress(PermissionError):
            os.setpriority(os.PRIO_PROCESS, 0, before)


@pytest.fixture
def sound_server(monkeypatch: pytest.MonkeyPatch) -> Iterator[SoundServer]:
    """A server that runs, with the environment that leads sound libraries to it."""
    missing = missing_part()
    if missing:
        skip_for_missing_part(missing)
    # A socket's path has room for about a hundred characters: pytest's own folders are too deep.
    with before_other_work(), tempfile.TemporaryDirectory(prefix="sound-", ignore_cleanup_errors=True) as folder:
        server = SoundServer(Path(folder))
        for name, value in server.environment.items():
            monkeypatch.setenv(name, value)
        server.start()
        try:
            yield server
        finally:
            server.kill()
