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
    """Hands on whole lines without their drawings."""

    def __init__(self) -> None:
        super().__init__()
        self._to = sys.stdout
        self._begun = ""

    def write(self, text: str) -> int:
        from tempo_coach.report.plain import plain_text

        *lines, self._begun = (self._begun + text).split("\n")
        for line in lines:
            if not line or (said := plain_text(line)):
                self._to.write(f"{said if line else ''}\n")
        return len(text)

    def flush(self) -> None:
        self._to.flush()

    def fileno(self) -> int:
        return self._to.fileno()

    def finish(self) -> None:
        """Hand on what stands after the last line's end."""
        from tempo_coach.report.plain import plain_text

        self._to.write(plain_text(self._begun))
        self._begun = ""
        self._to.flush()
