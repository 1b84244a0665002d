"""Files: where those are that come with the program or are kept to be quick; reading text, and writing whole files.

In a wheel sounds and drills lie inside the package; in a checkout they lie at the top of the repository. Nobody else
has to know.
"""

from __future__ import annotations

import contextlib
import hashlib
import os
import sys
import tempfile
from pathlib import Path
from typing import TYPE_CHECKING

from tempo_coach.errors import CoachError

if TYPE_CHECKING:
    from collections.abc import Iterator

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
    with saying_why(path, what, hint):
        return Path(path).read_text(encoding="utf-8-sig")


def read_bytes(path: str | Path, *, what: str, hint: str | None = None) -> bytes:
    """Return the content of a file, with the sentences of :func:`read_text` where there is none.

    Parameters
    ----------
    path : str or Path
    what : str
        What the file should be, for the error.
    hint : str or None

    Raises
    ------
    CoachError
        If there is no such file, it is a folder, or it cannot be read.
    """
    with saying_why(path, what, hint):
        return Path(path).read_bytes()


@contextlib.contextmanager
def saying_why(path: str | Path, what: str, hint: str | None = None) -> Iterator[None]:
    """Say in one sentence why a file cannot be read, where that fails inside. See :func:`read_text`."""
    where = str(path)
    try:
        yield
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


def content_hash(path: str | os.PathLike[str]) -> str:
    """Return the SHA-256 of a file's content as 64 hexadecimal digits.

    Raises
    ------
    CoachError
        If the file cannot be read.
    """
    try:
        with Path(path).open("rb") as file:
            return hashlib.file_digest(file, "sha256").hexdigest()
    except OSError as error:
        raise CoachError(f"the file cannot be read ({error.strerror})", where=str(path)) from error


def refuse_existing(path: str | Path, *, force: bool) -> Path:
    """Return the path, refusing a file that exists unless it may be replaced.

    Parameters
    ----------
    path : str or Path
    force : bool
        Whether what is there may be replaced.

    Raises
    ------
    CoachError
        If it exists, or its folder does not.
    """
    path = Path(path)
    if path.is_dir():
        raise CoachError("expected the name of a file, found a folder", where=str(path))
    if path.exists() and not force:
        raise CoachError("the file exists and is not overwritten", where=str(path), hint="use another name or --force")
    if not path.parent.is_dir():
        raise CoachError("there is no such folder", where=str(path.parent), hint="make the folder first")
    return path


@contextlib.contextmanager
def written_whole(path: Path, *, what: str = "the file") -> Iterator[Path]:
    """Give a place beside a file to write to: behind it the file is whole, or as it was before.

    Parameters
    ----------
    path : Path
        What is there already is replaced.
    what : str
        For the error.

    Raises
    ------
    CoachError
        If it cannot be written.

    Examples
    --------
    >>> folder = Path(tempfile.mkdtemp())
    >>> with written_whole(folder / "x.txt") as beside:
    ...     _ = beside.write_text("all of it")
    >>> [path.name for path in folder.iterdir()]
    ['x.txt']
    """
    beside = path.with_name(f".{path.name}.{os.getpid()}.part")
    try:
        yield beside
        beside.replace(path)
    except OSError as error:
        raise CoachError(f"{what} cannot be written ({error.strerror})", where=str(path)) from error
    finally:
        with contextlib.suppress(OSError):
            beside.unlink()
