"""Folders of samples being played: locked by the program that made them, removed once it has gone.

A program that is killed clears nothing, and samples are large: whoever makes the next folder clears what nobody holds.
"""

from __future__ import annotations

import contextlib
import os
import shutil
import tempfile
import time
from importlib.util import find_spec
from pathlib import Path

from tempo_coach.observe.take.take_writer import lock
from tempo_coach.resources import cache_folder

_PREFIX = "take-"
#: The file in a folder that its program holds locked.
_HELD = "held"
#: Seconds after which a folder is given up that cannot tell whether it is held: the system has no locks, or it was
#: made by a version that held none.
UNTOUCHED = 86_400.0


def samples_folder() -> Path:
    """Return the user's cache folder for samples being played, creating it if need be.

    Never ``/dev/shm``: containers give it 64 MB, and writing more kills.
    """
    return cache_folder("live")


class SamplesFolder:
    """A new folder owned by this process.

    Parameters
    ----------
    within : Path or None
        By default :func:`samples_folder`.

    Raises
    ------
    OSError
        If it cannot be made.
    """

    def __init__(self, within: Path | None = None) -> None:
        within = within or samples_folder()
        clear_abandoned(within)
        self.path = Path(tempfile.mkdtemp(prefix=_PREFIX, dir=within))
        self._held = os.open(self.path / _HELD, os.O_RDWR | os.O_CREAT | os.O_EXCL, 0o600)
        lock(self._held)

    def close(self) -> None:
        """Remove it."""
        os.close(self._held)
        shutil.rmtree(self.path, ignore_errors=True)


def clear_abandoned(within: Path) -> None:
    """Remove the folders of programs that ended without doing so."""
    with contextlib.suppress(OSError):
        for folder in list(within.glob(f"{_PREFIX}*")):
            if not folder.is_symlink() and folder.is_dir() and _abandoned(folder):
                shutil.rmtree(folder, ignore_errors=True)


def _abandoned(folder: Path) -> bool:
    try:
        if find_spec("fcntl") is None or not (folder / _HELD).exists():
            return time.time() - folder.stat().st_mtime > UNTOUCHED
        held = os.open(folder / _HELD, os.O_RDWR)
    except OSError:
        return False
    try:
        return lock(held)
    finally:
        os.close(held)
