"""Output: data to stdout, everything else to stderr, files without overwriting."""

from __future__ import annotations

import json
import os
import sys
import time
from pathlib import Path
from typing import TYPE_CHECKING, Self

from tempo_coach.errors import CoachError
from tempo_coach.languages import tr
from tempo_coach.resources import refuse_existing, written_whole
from tempo_coach.signs import CONTROLS, in_encoding

if TYPE_CHECKING:
    import argparse
    from collections.abc import Iterable, Iterator, Mapping

    from tempo_coach.reasons import Note

#: Seconds after which whatever is still running says so.
PATIENCE = 0.5


def print_json(values: Mapping[str, object] | list[object]) -> None:
    """Print values as JSON, unchanged; characters that the output lacks are escaped."""
    text = json.dumps(values, ensure_ascii=False, allow_nan=False)
    if CONTROLS.search(text) or in_encoding(text, getattr(sys.stdout, "encoding", None)) != text:
        text = json.dumps(values, allow_nan=False)
    print(text)


def warn(note: str | Note) -> None:
    """Tell the person something that does not stop the work."""
    if not isinstance(note, str):
        from tempo_coach.report.words.reasons import say_note

        note = say_note(note)
    print(tr("tempo-coach: {note}", note=note), file=sys.stderr)


def check_outputs(args: argparse.Namespace, *names: str, inputs: Iterable[str | Path] = ()) -> None:
    """Refuse output files that exist already or are read by the command, before any work is done.

    Parameters
    ----------
    args : argparse.Namespace
        As the command was called; ``force`` says whether files may be replaced.
    names : str
        The options that name a file to write. Every other word that was given may be a file to be read.
    inputs : iterable of str or Path
        Further files that are read.

    Raises
    ------
    CoachError
        With the first file that may not be written, or is to be written twice.
    """
    outputs = [(f"--{name}", path) for name in names if (path := getattr(args, name))]
    words = [word for name, given in vars(args).items() if name not in names for word in _words(given)]
    named = [*words, *(word.partition("=")[2] for word in words), *inputs]  # a member's file comes as NAME=FILE
    taken: dict[str, str] = {}
    for option, path in outputs:
        refuse_existing(path, force=args.force)
        if any(_is_same_file(path, word) for word in named):
            raise CoachError("output.is_read", where=option, path=path)
        other = taken.setdefault(os.path.realpath(path), option)
        if other != option and (Path(path).is_file() or not Path(path).exists()):
            raise CoachError("output.named_twice", where=option, other=other, path=path)


def _words(given: object) -> Iterator[str]:
    """Yield every word given to an option."""
    if isinstance(given, str):
        yield given
    elif isinstance(given, (list, tuple)):
        for each in given:
            yield from _words(each)


def _is_same_file(path: str | Path, other: str | Path) -> bool:
    try:
        return Path(path).is_file() and Path(path).samefile(other)
    except (OSError, ValueError):  # the other is none, or no word that could name one
        return False


class Progress:
    """Reports on stderr what is being done once it takes over half a second, with the share where known.

    Parameters
    ----------
    what : str
        For example ``"hearing the music"``.
    """

    def __init__(self, what: str) -> None:
        self._what = tr(what)
        self._begin = time.monotonic()
        self._shown = ""
        self._live = sys.stderr.isatty()

    def __call__(self, share: float) -> None:
        """Record the share that is done, 0 to 1."""
        if time.monotonic() - self._begin < PATIENCE:
            return
        text = f"{self._what} … {share:4.0%}" if self._live else f"{self._what} …"
        if text != self._shown:
            _write_in_place(f"\r{text}" if self._live else f"{text}\n")
            self._shown = text

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        if self._shown and self._live:
            _write_in_place(f"\r{' ' * len(self._shown)}\r")


def _write_in_place(text: str) -> None:
    """Write text that may return to the beginning of its line, which is a visible sign otherwise."""
    getattr(sys.stderr, "write_in_place", sys.stderr.write)(text)
    sys.stderr.flush()


def write_text(path: str | Path, text: str, *, force: bool) -> None:
    """Write a text file atomically, as :func:`write_bytes` does."""
    write_bytes(path, text.encode("utf-8"), force=force)


def write_bytes(path: str | Path, content: bytes, *, force: bool) -> None:
    """Write a file atomically.

    Raises
    ------
    CoachError
        If it exists and may not be replaced, or cannot be written.
    """
    path = refuse_existing(path, force=force)
    with written_whole(path) as temporary:
        temporary.write_bytes(content)


def say(sentence: str) -> None:
    """Tell the person what is being done now."""
    print(tr(sentence), file=sys.stderr, flush=True)
