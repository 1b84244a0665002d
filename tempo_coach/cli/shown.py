"""Both outputs of a command: without terminal controls, missing signs, and drawings where they are read aloud."""

from __future__ import annotations

import contextlib
import io
import os
import sys
from typing import TYPE_CHECKING, TextIO

from tempo_coach.signs import in_encoding, show_controls

if TYPE_CHECKING:
    import argparse
    from collections.abc import Iterator

#: Set to anything, every command prints as with ``--plain``.
VARIABLE = "TEMPO_COACH_PLAIN"
HELP = "words and figures alone, line by line, without drawings: for a screen reader"


def is_plain(args: argparse.Namespace) -> bool:
    """Return whether output is to be plain: by the command line, or by the environment."""
    return bool(args.plain or os.environ.get(VARIABLE))


@contextlib.contextmanager
def plain_output(*, on: bool) -> Iterator[None]:
    """Remove the drawings from everything that is printed."""
    if not on:
        yield
        return
    from tempo_coach.report.drawings.plain import reading_out

    with reading_out(), contextlib.redirect_stdout(_Plain()) as stream:
        try:
            yield
        finally:
            stream.finish()


class _Plain(io.TextIOBase):
    """Passes on whole lines without their drawings, merging the empty lines around a removed one."""

    def __init__(self) -> None:
        super().__init__()
        self._to = sys.stdout
        self._begun = ""
        self._last: str | None = None

    def write(self, text: str) -> int:
        *lines, self._begun = (self._begun + text).split("\n")
        for line in lines:
            self._hand_on(line, "\n")
        return len(text)

    def flush(self) -> None:
        self._to.flush()

    def fileno(self) -> int:
        return self._to.fileno()

    def finish(self) -> None:
        """Pass on the incomplete last line."""
        if self._begun:
            self._hand_on(self._begun, "")
        self._begun = ""
        self._to.flush()

    def _hand_on(self, line: str, end: str) -> None:
        from tempo_coach.report.drawings.plain import plain_row

        said = plain_row(line)
        if said is not None and (said or self._last != ""):
            self._to.write(f"{said}{end}")
            self._last = said


@contextlib.contextmanager
def shown_output() -> Iterator[None]:
    """Print to stdout and stderr only signs that they can show."""
    with contextlib.ExitStack() as stack:
        if sys.stdout is not None:
            stack.enter_context(contextlib.redirect_stdout(Shown(sys.stdout)))
        if sys.stderr is not None:
            stack.enter_context(contextlib.redirect_stderr(Shown(sys.stderr)))
        yield


class Shown(io.TextIOBase):
    """Passes on text as visible signs; only newlines and tabs take effect."""

    def __init__(self, to: TextIO) -> None:
        super().__init__()
        self._to = to

    @property
    def encoding(self) -> str | None:  # type: ignore[override]  # a stream in memory has none
        """That of the stream, None where it takes everything."""
        return getattr(self._to, "encoding", None)

    @property
    def errors(self) -> str | None:  # type: ignore[override]  # it is that of the stream
        """How the stream meets what it lacks."""
        return getattr(self._to, "errors", None)

    def write(self, text: str) -> int:
        """Write text in visible signs."""
        self._to.write(in_encoding(show_controls(text, keep="\n\t"), self.encoding))
        return len(text)

    def write_in_place(self, text: str) -> None:
        """Write the program's own text that returns to the beginning of the line."""
        self._to.write(in_encoding(text, self.encoding))

    def flush(self) -> None:
        """Pass on what is held back."""
        self._to.flush()

    def fileno(self) -> int:
        """Return the descriptor."""
        return self._to.fileno()

    def isatty(self) -> bool:
        """Return whether it is a terminal."""
        return self._to.isatty()
