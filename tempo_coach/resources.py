"""Where files are: sounds and drills that come with the program, and what it keeps only to be quick.

In a wheel they lie inside the package; in a checkout they lie at the top of the repository. Nobody else has to know.
"""

import os
import sys
import tempfile
from pathlib import Path

from tempo_coach.errors import CoachError

_PACKAGE = Path(__file__).parent


def find_shared(folder: str) -> Path:
    """Return the folder of that name that came with the program.

    Parameters
    ----------
    folder : str
        ``"sounds"`` or ``"drills"``.

    Returns
    -------
    pathlib.Path

    Raises
    ------
    CoachError
        If the installation is incomplete.
    """
    for place in (_PACKAGE / "_shared" / folder, _PACKAGE.parent / folder):
        if place.is_dir():
            return place
    raise CoachError(
        f"the folder of {folder} that belongs to the program is missing",
        where=str(_PACKAGE),
        hint="install tempo_coach again",
    )


def cache_folder(name: str) -> Path:
    """Return the folder of that name in the user's cache, made if need be; where that fails, a temporary one.

    What lies there may be deleted at any time.
    """
    if sys.platform == "win32":
        base = Path(os.environ.get("LOCALAPPDATA") or Path.home() / "AppData" / "Local")
    elif sys.platform == "darwin":
        base = Path.home() / "Library" / "Caches"
    else:
        base = Path(os.environ.get("XDG_CACHE_HOME") or Path.home() / ".cache")
    folder = base / "tempo_coach" / name
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError:
        return Path(tempfile.mkdtemp(prefix=f"tempo_coach_{name}_"))
    return folder
