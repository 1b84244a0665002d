"""A sound server for the tests that need one, on a null sink, ended by its own process id."""

from __future__ import annotations

import tempfile
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from tests.conftest import skip_for_missing_part
from tests.live.sound_server import SoundServer, missing_part

if TYPE_CHECKING:
    from collections.abc import Iterator


@pytest.fixture
def sound_server(monkeypatch: pytest.MonkeyPatch) -> Iterator[SoundServer]:
    """A server that runs, with the environment that leads sound libraries to it."""
    missing = missing_part()
    if missing:
        skip_for_missing_part(missing)
    # A socket's path has room for about a hundred characters: pytest's own folders are too deep.
    with tempfile.TemporaryDirectory(prefix="sound-", ignore_cleanup_errors=True) as folder:
        server = SoundServer(Path(folder))
        for name, value in server.environment.items():
            monkeypatch.setenv(name, value)
        server.start()
        try:
            yield server
        finally:
            server.kill()
