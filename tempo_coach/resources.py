"""Files: where those are that come with the program or are kept to be quick; reading text, and writing whole files.

In a wheel sounds and drills lie inside the package; in a checkout they lie at the top of the repository. Nobody else
has to know.
"""

from __future__ import annotations

import contextlib
import errno
import hashlib
import os
import shutil
import stat
import sys
import tempfile
import time
from contextvars import ContextVar
from pathlib import Path
from typing import TYPE_CHECKING

from tempo_coach.errors import CoachError

if TYPE_CHECKING:
    from collections.abc import Iterator

    from platformdirs import PlatformDirs

_PACKAGE = Path(__file__).parent


def find_shared(folder: str) -> Path:
    """Return a folder that comes with the program, by name.

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
    raise CoachError("file.not_installed", where=str(_PACKAGE), folder=folder)


def own_folders() -> PlatformDirs:
    """Return the folders that the system provides for this program and person, which may not exist yet."""
    from platformdirs import PlatformDirs

    # no folder of an author around it, and none named Cache inside it, which Windows alone would have
    return PlatformDirs("tempo_coach", appauthor=False, opinion=False)


def cache_folder(name: str) -> Path:
    """Return a folder of the user's cache, created if need be; where that fails, a temporary one.

    What lies there may be deleted at any time.
    """
    folder = own_folders().user_cache_path / name
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError:
        return Path(tempfile.mkdtemp(prefix=f"tempo_coach_{name}_"))
    return folder


#: MiB of the largest file of each kind that is read: several times what an hour of practice makes of it, and little
#: enough that whatever stands in it fits into memory when it is read.
MOST_MIB = {"text": 0.5, "plan": 16, "take": 32, "onsets": 32, "beats": 32, "readings": 64, "history": 1 << 14}
#: Letters of a file's name that the name of its unfinished copy begins with: a name may have 255 bytes in all.
_BEGINNING = 24
#: Seconds after which an unfinished copy, to which nobody writes any more, was abandoned.
_ABANDONED = 10
#: How the names of this program's own temporary folders begin, before the number of the process.
_SCRATCH = "tempo_coach_scratch_"
#: What was read in this command, as (device, number on it): never written over.
_read: ContextVar[set[tuple[int, int]] | None] = ContextVar("read", default=None)


def check_file(path: str | Path, *, what: str, most_mib: float | None = None) -> int:
    """Return the size in bytes of a file to be read. Every reader calls this before opening one.

    A pipe, a device, a socket or a folder is refused, because reading it may never end.

    Parameters
    ----------
    path : str or Path
    what : str
        What the file should be, for the error: ``"drill"``.
    most_mib : float or None
        How large it may be; None where its reader needs no more memory for a larger one.

    Raises
    ------
    CoachError
        If there is no such file, it is no regular file, or it is larger.
    """
    with saying_why(path, what):
        seen = Path(path).stat()
    if not stat.S_ISREG(seen.st_mode):
        raise CoachError("file.other_kind", where=str(path), what=what, kind=_kind(seen.st_mode))
    if most_mib is not None and seen.st_size > most_mib * 2**20:
        found_mib = seen.st_size / 2**20
        raise CoachError("file.too_large", where=str(path), what=what, most_mib=most_mib, found_mib=found_mib)
    noted = _read.get()
    if noted is not None:
        noted.add((seen.st_dev, seen.st_ino))
    return seen.st_size


def read_text(path: str | Path, *, what: str, most_mib: float = MOST_MIB["text"]) -> str:
    """Return the text of a file written by a person or another program, in UTF-8 with or without a mark.

    Parameters
    ----------
    path : str or Path
    what, most_mib
        As in :func:`check_file`.

    Raises
    ------
    CoachError
        If there is no such file, it is no regular file, too large, no text, or it cannot be read.
    """
    content = read_bytes(path, what=what, most_mib=most_mib)
    with saying_why(path, what):
        # as a file that is opened as text: whatever ends its lines, a line ends with "\n"
        return content.decode("utf-8-sig").replace("\r\n", "\n").replace("\r", "\n")


def read_bytes(path: str | Path, *, what: str, most_mib: float = MOST_MIB["text"]) -> bytes:
    """Return the content of a file, with the errors of :func:`read_text`.

    Parameters
    ----------
    path : str or Path
    what, most_mib
        As in :func:`check_file`.

    Raises
    ------
    CoachError
        If there is no such file, it is no regular file, too large, or it cannot be read.
    """
    check_file(path, what=what, most_mib=most_mib)
    most = int(most_mib * 2**20)
    with saying_why(path, what), Path(path).open("rb") as file:
        content = file.read(most + 1)
    if len(content) > most:  # files of the system say that they are empty, and give without end
        raise CoachError("file.endless", where=str(path), what=what, most_mib=most_mib)
    return content


@contextlib.contextmanager
def saying_why(path: str | Path, what: str) -> Iterator[None]:
    """Turn a failure to read a file inside the block into one sentence. See :func:`read_text`."""
    where = str(path)
    try:
        yield
    except FileNotFoundError:
        raise CoachError("file.missing", where=where, what=what) from None
    except IsADirectoryError:
        raise CoachError("file.folder", where=where, what=what) from None
    except UnicodeDecodeError:
        raise CoachError("file.no_text", where=where, what=what) from None
    except OSError as error:
        raise CoachError("file.unreadable", where=where, what=what, reason=error.strerror) from error
    except ValueError as error:  # a name that no file can have: with a NUL, or half of a letter
        raise CoachError("file.no_such_name", where=repr(where), what=what) from error


def content_hash(path: str | os.PathLike[str]) -> str:
    """Return the SHA-256 of a file's content as 64 hexadecimal digits.

    Raises
    ------
    CoachError
        If it is no regular file or cannot be read.
    """
    check_file(Path(path), what="file")
    try:
        with Path(path).open("rb") as file:
            return hashlib.file_digest(file, "sha256").hexdigest()
    except OSError as error:
        raise CoachError("file.not_read", where=str(path), reason=error.strerror) from error


@contextlib.contextmanager
def keeping_what_is_read() -> Iterator[None]:
    """Keep :func:`refuse_existing` from overwriting anything that is read inside the block."""
    before = _read.set(set())
    try:
        yield
    finally:
        _read.reset(before)


def refuse_existing(path: str | Path, *, force: bool) -> Path:
    """Return the path to be written, refusing an existing file unless it may be replaced.

    A pipe or a device (``/dev/stdout``) is no file that could be lost: it is written into in any case.

    Parameters
    ----------
    path : str or Path
    force : bool
        Whether what is there may be replaced.

    Raises
    ------
    CoachError
        If it exists, its folder does not, it is a socket or a disk, or it was read by the command that writes.
    """
    path = Path(path)
    try:
        seen = path.stat() if path.exists() else None
        if seen is None and not _follow(path).parent.is_dir():
            raise CoachError("folder.missing", where=str(path.parent))
    except OSError as error:
        raise CoachError("file.not_there", where=str(path), reason=error.strerror) from error
    except ValueError as error:  # with a NUL or half of a letter in it
        raise CoachError("file.impossible_name", where=repr(str(path))) from error
    if seen is None or _own_output(path) is not None:
        return path
    if stat.S_ISREG(seen.st_mode):
        if not force:
            raise CoachError("file.exists", where=str(path))
        if (seen.st_dev, seen.st_ino) in (_read.get() or ()):
            raise CoachError("file.was_read", where=str(path))
    elif not (stat.S_ISFIFO(seen.st_mode) or stat.S_ISCHR(seen.st_mode)):
        raise CoachError("file.no_file", where=str(path), kind=_kind(seen.st_mode))
    return path


@contextlib.contextmanager
def written_whole(path: Path, *, what: str = "file") -> Iterator[Path]:
    """Provide a path to write to beside a file; afterwards that file is complete, or unchanged.

    Of a link, what it leads to is written. Into a pipe or a device, and into a file that is this program's own
    output, the whole is copied.

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
    made: Path | None = None
    try:
        own = _own_output(path)
        if own is not None or (path.exists() and not path.is_file()):
            number, name = tempfile.mkstemp(prefix="tempo-coach-")
            os.close(number)
            made = Path(name)
            yield made
            _pour(made, path if own is None else own)
            return
        target = _follow(path)
        made = unfinished(target)
        yield made
        with contextlib.suppress(OSError):
            shutil.copymode(target, made)  # what only she may read stays so
        made.replace(target)
    except OSError as error:
        raise CoachError("file.not_written", where=str(path), what=what, reason=error.strerror or str(error)) from error
    finally:
        if made is not None:
            with contextlib.suppress(OSError):
                made.unlink()


def unfinished(target: Path, end: str = ".part") -> Path:
    """Return the name under which this process may write a file before renaming it.

    What a program that was killed while it made the same file left there is removed; a part that is still being
    written is another process's, or another machine's where the folder is shared.
    """
    begin = f".{target.name[:_BEGINNING]}."
    parts: list[os.DirEntry[str]] = []
    with contextlib.suppress(OSError), os.scandir(target.parent) as entries:
        parts = [each for each in entries if each.name.startswith(begin) and each.name.endswith(end)]
    for each in parts:
        writer = each.name[len(begin) : -len(end)]
        with contextlib.suppress(OSError):
            if writer.isdigit() and not _runs(int(writer)) and time.time() - each.stat().st_mtime > _ABANDONED:
                Path(each).unlink()
    return target.with_name(f"{begin}{os.getpid()}{end}")


@contextlib.contextmanager
def scratch_folder(within: Path | None = None) -> Iterator[Path]:
    """Provide a folder of this process's own, removed after the block.

    Those that killed programs left at the same place are removed first: what lies in them is somebody's.

    Parameters
    ----------
    within : Path or None
        By default the system's place for temporary files.
    """
    place = within or Path(tempfile.gettempdir())
    for each in place.glob(f"{_SCRATCH}*"):
        writer = each.name[len(_SCRATCH) :].partition("_")[0]
        with contextlib.suppress(OSError):
            if writer.isdigit() and not _runs(int(writer)) and time.time() - each.lstat().st_mtime > _ABANDONED:
                shutil.rmtree(each, ignore_errors=True)
    with tempfile.TemporaryDirectory(prefix=f"{_SCRATCH}{os.getpid()}_", dir=place) as name:
        yield Path(name)


def _runs(process: int) -> bool:
    """Return whether a process with that number exists; assume so where that cannot be asked."""
    if os.name == "nt":  # there a signal of 0 would end it
        return True
    try:
        os.kill(process, 0)
    except ProcessLookupError:
        return False
    except (OSError, OverflowError):
        return True
    return True


def _follow(path: Path) -> Path:
    """Return the target of a path that is a link, whether that exists or not.

    Raises
    ------
    OSError
        If its links lead round in a circle.
    """
    target = Path(os.path.realpath(path))
    if target.is_symlink():
        raise OSError(errno.ELOOP, os.strerror(errno.ELOOP))
    return target


def _own_output(path: Path) -> int | None:
    """Return the descriptor of this program's output that is written at a path, or None."""
    for number in (1, 2):
        with contextlib.suppress(OSError):
            if os.path.samestat(path.stat(), os.fstat(number)):
                return number
    return None


def _pour(made: Path, into: Path | int) -> None:
    """Copy a file into a pipe, a device or an open output."""
    if isinstance(into, Path):
        # a pipe that nobody reads would be waited for without end
        number = os.open(into, os.O_WRONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_NOCTTY", 0))
        os.set_blocking(number, True)
    else:
        sys.stdout.flush()
        number = os.dup(into)
    with made.open("rb") as whole, os.fdopen(number, "wb") as out:
        shutil.copyfileobj(whole, out)


def _kind(mode: int) -> str:
    """Return the kind of what is no regular file."""
    kinds = (
        (stat.S_ISDIR, "folder"),
        (stat.S_ISFIFO, "pipe"),
        (stat.S_ISSOCK, "socket"),
        (stat.S_ISBLK, "disk"),
    )
    return next((name for is_kind, name in kinds if is_kind(mode)), "device")
