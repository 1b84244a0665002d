"""Files shown in what the system shows them in, where there is a screen for that."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pathlib import Path


def show_file(path: Path) -> bool:
    """Let the system show a file outside this terminal, without waiting; return whether it was asked to."""
    if sys.platform == "win32":
        os.startfile(path)  # the file was written by this program
        return True
    opener = "open" if sys.platform == "darwin" else "xdg-open"
    if sys.platform != "darwin" and not (os.environ.get("DISPLAY") or os.environ.get("WAYLAND_DISPLAY")):
        return False
    found = shutil.which(opener)
    if found is None:
        return False
    quiet = subprocess.DEVNULL
    subprocess.Popen([found, str(path)], stdin=quiet, stdout=quiet, stderr=quiet, start_new_session=True)
    return True
