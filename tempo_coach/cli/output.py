"""Printing: data to stdout, everything else to stderr, files without overwriting."""

from __future__ import annotations

import json
import os
import sys
import time
from pathlib import Path
from typing import TYPE_CHECKING, Self

from tempo_coach.errors import CoachError

if TYPE_CHECKING:
    from collections.abc import Mapping

#: Seconds after which whatever is still running says so.
PATIENCE = 0.5


def print_json(values: Mapping[str, object] | list[object]) -> None:
    """Print values for programs."""
    print(json.dumps(values, ensure_ascii=False, allow_nan=False))


def warn(sentence: str) -> None:
    """Tell the person something that does not stop the work."""
    print(f"tempo-coach: {sentence}", file=sys.stderr)


class Progress:
    """Says on stderr what is being done once it takes over half a second, with the share where it is known.

    Parameters
    ----------
    what : str
        For example ``"hearing the music"``.
    """

    def __init__(self, what: str) -> None:
        self._what = what
        self._begin = time.monotonic()
        self._shown = ""
        self._live = sys.stderr.isatty()

    def __call__(self, share: float) -> None:
        """Take note of the share that is done, 0 to 1."""
        if time.monotonic() - self._begin < PATIENCE:
            return
        text = f"{self._what} … {share:4.0%}" if self._live else f"{self._what} …"
        if text != self._shown:
            print(f"\r{text}" if self._live else text, end="" if self._live else "\n", file=sys.stderr, flush=True)
            self._shown = text

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        if self._shown and self._live:
            print(f"\r{' ' * len(self._shown)}\r", end="", file=sys.stderr, flush=True)


def refuse_existing(path: str | Path, *, force: bool) -> Path:
    """Return the path, refusing a file that exists unless it may be replaced.

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


def write_text(path: str | Path, text: str, *, force: bool) -> None:
    """Write a text file whole or not at all, as :func:`write_bytes` does."""
    write_bytes(path, text.encode("utf-8"), force=force)


def write_bytes(path: str | Path, content: bytes, *, force: bool) -> None:
    """Write a file whole or not at all.

    Raises
    ------
    CoachError
        If it exists and may not be replaced, or cannot be written.
    """
    path = refuse_existing(path, force=force)
    beside = path.with_name(f".{path.name}.{os.getpid()}.part")
    try:
        beside.write_bytes(content)
        beside.replace(path)
    except OSError as error:
        beside.unlink(missing_ok=True)
        raise CoachError(f"the file cannot be written ({error.strerror})", where=str(path)) from error


def say(sentence: str) -> None:
    """Tell the person what is being done now."""
    print(sentence, file=sys.stderr, flush=True)
