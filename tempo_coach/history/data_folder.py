"""The data folder of this person."""

from __future__ import annotations

import os
import sys
from pathlib import Path

#: Names another file for the history.
FILE_VARIABLE = "TEMPO_COACH_HISTORY"
FILE_NAME = "history.sqlite"


def data_folder() -> Path:
    """Return the folder of this person's data, which may not be there yet."""
    if sys.platform == "win32":
        base = Path(os.environ.get("LOCALAPPDATA") or Path.home() / "AppData" / "Local")
    elif sys.platform == "darwin":
        base = Path.home() / "Library" / "Application Support"
    else:
        base = Path(os.environ.get("XDG_DATA_HOME") or Path.home() / ".local" / "share")
    return base / "tempo_coach"


def history_file() -> Path:
    """Return the file of the history: the one that ``TEMPO_COACH_HISTORY`` names, or the usual one."""
    named = os.environ.get(FILE_VARIABLE)
    return Path(named) if named else data_folder() / FILE_NAME
