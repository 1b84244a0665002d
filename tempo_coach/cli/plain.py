"""Output for whoever hears it read out: what is printed, without its drawings."""

from __future__ import annotations

import contextlib
import io
import os
import sys
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import argparse
    from collections.abc import Iterator

#: Set to anything, every command prints as with ``--plain``.
VARIABLE = "TEMPO_COACH_PLAIN"
HELP = "words and figures alone, line by line, without drawings: for a screen reader"


def is_plain(args: argparse.Namespace) -> bool:
    """Whether output is to be plain: said on the command line, or once for all in the environment."""
    return bool(args.plain or os.environ.get(VARIABLE))


@contextlib.contextmanager
def plain_output(*, on: bool) -> Iterator[None]:
    """Take the drawings out of whatever is printed."""
    if not on:
        yield
        return
    with contextlib.redirect_stdout(_Plain()) as stream:
        try:
            yield
        finally:
            stream.finish()


class _Plain(io.TextIOBase):
    """Hands on whole lines without their drawings; where a drawing stood between two empty lines, one is left."""

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
        """Hand on what stands after the last line's end."""
        if self._begun:
            self._hand_on(self._begun, "")
        self._begun = ""
        self._to.flush()

    def _hand_on(self, line: str, end: str) -> None:
        from tempo_coach.report.plain import plain_row

        said = plain_row(line)
        if said is not None and (said or self._last != ""):
            self._to.write(f"{said}{end}")
            self._last = said
