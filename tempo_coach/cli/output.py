"""Printing: data to stdout, everything else to stderr, files without overwriting."""

from __future__ import annotations

import json
import sys
import time
from typing import TYPE_CHECKING, Self

from tempo_coach.resources import refuse_existing, written_whole

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

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
    with written_whole(path) as beside:
        beside.write_bytes(content)


def say(sentence: str) -> None:
    """Tell the person what is being done now."""
    print(sentence, file=sys.stderr, flush=True)
