"""The one question about a table whose header does not say what its columns are, asked where somebody can answer."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import argparse

    from tempo_coach.errors import CoachError

#: Tables that one command asks about at the most.
_MOST = 20


def run_asking(args: argparse.Namespace) -> int:
    """Run a command; in a terminal ask what a table's columns are where nothing says it, keep it, and begin again.

    Raises
    ------
    CoachError
        What the command raises; ``unit.untold`` where nobody can be asked, or who was asked does not know.
    """
    import sys

    from tempo_coach.errors import CoachError

    for left in range(_MOST, -1, -1):
        try:
            code: int = args.run(args)
        except CoachError as error:
            can_ask = sys.stdin.isatty() and sys.stderr.isatty() and not getattr(args, "json", False)
            if error.code != "unit.untold" or not can_ask or not left or not _answer(error):
                raise
        else:
            return code
    raise AssertionError("the last round raises")


def _answer(error: CoachError) -> bool:
    """Ask what the columns of a table are, and keep the answer; return False where none was given."""
    import sys
    from pathlib import Path

    from tempo_coach.cli.output import say
    from tempo_coach.coach import keep_answer
    from tempo_coach.report.words.errors import message_of
    from tempo_coach.report.words.trace import COLUMNS

    path = Path(error.where or "")
    if not path.is_file():
        return False
    say(f"{path}: {message_of(error)}. They are:")
    kinds = list(COLUMNS)
    for number, kind in enumerate(kinds, start=1):
        say(f"{number:>3}  {COLUMNS[kind]}")
    print(f"Type 1 to {len(kinds)}, anything else to stop: ", end="", file=sys.stderr, flush=True)
    typed = sys.stdin.readline().strip()
    if not (typed.isascii() and typed.isdecimal() and 1 <= int(typed[:4]) <= len(kinds)):
        return False
    file = keep_answer(path, *kinds[int(typed) - 1])
    say(f"This is kept for all tables with this header, in {file}.")
    return True
