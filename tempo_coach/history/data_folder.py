"""The data folder of this person."""

from __future__ import annotations

import os
from pathlib import Path

from tempo_coach.resources import own_folders

#: Names another file for the history.
FILE_VARIABLE = "TEMPO_COACH_HISTORY"
FILE_NAME = "history.sqlite"


def data_folder() -> Path:
    """Return the folder of this person's data, which may not be there yet."""
    return own_folders().user_data_path


def history_file() -> Path:
    """Return the file of the history: the one that ``TEMPO_COACH_HISTORY`` names, or the one in the data folder."""
    named = os.environ.get(FILE_VARIABLE)
    return Path(named) if named else data_folder() / FILE_NAME
