"""Questions in a terminal about what a table leaves unsaid: what its columns are, which hand a drill is of."""

from __future__ import annotations

from typing import TYPE_CHECKING

from tempo_coach.languages import tr

if TYPE_CHECKING:
    import argparse
    from collections.abc import Callable, Sequence

    from tempo_coach.errors import CoachError

#: Tables that one command asks about at the most.
_MOST = 20


def run_asking(args: argparse.Namespace) -> int:
    """Run a command; in a terminal, ask what a table does not say and start again.

    What the columns of a table are is kept for all tables with the same header; which hand it was is not.

    Raises
    ------
    CoachError
        What the command raises; ``unit.untold`` and ``learn.no_hand`` where nobody can be asked, or who was asked does
        not know.
    """
    import sys

    from tempo_coach.errors import CoachError

    for left in range(_MOST, -1, -1):
        try:
            code: int = args.run(args)
        except CoachError as error:
            can_ask = sys.stdin.isatty() and sys.stderr.isatty() and not getattr(args, "json", False)
            if not (can_ask and left and error.code in _QUESTIONS and _QUESTIONS[error.code](error, args)):
                raise
        else:
            return code
    raise AssertionError("the last round raises")


def _ask_columns(error: CoachError, _: argparse.Namespace) -> bool:
    """Ask for the columns of a table, and keep the answer; return False without one."""
    from pathlib import Path

    from tempo_coach.cli.output import say
    from tempo_coach.coach import keep_answer
    from tempo_coach.report.words.errors import message_of
    from tempo_coach.report.words.trace import COLUMNS

    path = Path(error.where or "")
    if not path.is_file():
        return False
    kinds = list(COLUMNS)
    chosen = _choose(
        tr("{path}: {message_of}. They are:", path=path, message_of=message_of(error)),
        [COLUMNS[kind] for kind in kinds],
    )
    if chosen is None:
        return False
    file = keep_answer(path, *kinds[chosen])
    say(tr("This is kept for all tables with this header, in {file}.", file=file))
    return True


def _ask_hand(_: CoachError, args: argparse.Namespace) -> bool:
    """Ask which hand a table shows; return False without an answer."""
    hands = ("right", "left")
    chosen = _choose(tr("Nothing in {trace} says which hand did it. It was the:", trace=args.trace), hands)
    if chosen is None:
        return False
    args.hand = hands[chosen]
    return True


def _choose(question: str, answers: Sequence[str]) -> int | None:
    """Return the index of the answer whose number was typed; None without one."""
    import sys

    from tempo_coach.cli.output import say

    say(question)
    for number, answer in enumerate(answers, start=1):
        say(f"{number:>3}  {answer}")
    print(tr("Type 1 to {number}, anything else to stop: ", number=len(answers)), end="", file=sys.stderr, flush=True)
    typed = sys.stdin.readline().strip()
    if not (typed.isascii() and typed.isdecimal() and 1 <= int(typed[:4]) <= len(answers)):
        return None
    return int(typed) - 1


#: What can be asked, by the code of the error that says it is missing.
_QUESTIONS: dict[str, Callable[[CoachError, argparse.Namespace], bool]] = {
    "unit.untold": _ask_columns,
    "learn.no_hand": _ask_hand,
}
