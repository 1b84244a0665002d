"""Files: where the sounds and drills are that come with the program, what it keeps to be quick, text that people write.

In a wheel sounds and drills lie inside the package; in a checkout they lie at the top of the repository. Nobody else
has to know.
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


def read_text(path: str | Path, *, what: str, hint: str | None = None) -> str:
    """Return the text of a file that a person or another program wrote, in UTF-8 with or without a mark at its start.

    Parameters
    ----------
    path : str or Path
    what : str
        What the file should be, for the error: ``"a drill"``.
    hint : str or None

    Raises
    ------
    CoachError
        If there is no such file, it is a folder, it is no text, or it cannot be read.
    """
    where = str(path)
    try:
        return Path(path).read_text(encoding="utf-8-sig")
    except FileNotFoundError:
        raise CoachError(f"expected {what}, but there is no such file", where=where, hint=hint) from None
    except IsADirectoryError:
        raise CoachError(f"expected {what}, found a folder", where=where, hint=hint) from None
    except UnicodeDecodeError:
        raise CoachError(f"expected {what}, found something that is no text", where=where, hint=hint) from None
    except OSError as error:
        raise CoachError(
            f"expected {what}, but it cannot be read ({error.strerror})", where=where, hint=hint
        ) from error
