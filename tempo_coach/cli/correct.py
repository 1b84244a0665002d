"""``tempo-coach correct``: a take of the history put right, or the last correction undone."""

from __future__ import annotations

from typing import TYPE_CHECKING

from tempo_coach.cli.options import examples
from tempo_coach.languages import tr

if TYPE_CHECKING:
    import argparse

    from tempo_coach.coach.correcting import CorrectionKind


def add(parser: argparse.ArgumentParser) -> None:
    """Add what the command reads."""
    parser.description = tr(
        "Put a take of the history right, by its number. Everything that is told of takes follows; the last "
        "correction can be undone."
    )
    parser.epilog = examples(
        "tempo-coach correct 1 --to Bea",
        'tempo-coach correct 1 --not-counting "the club broke"',
        "tempo-coach correct --undo",
    )
    parser.add_argument("take", metavar="TAKE", nargs="?", type=int, help="number of the take, as history lists it")
    what = parser.add_mutually_exclusive_group(required=True)
    what.add_argument("--to", metavar="NAME", help="it was somebody else's: her name or its first letters")
    what.add_argument("--not-counting", metavar="WHY", help="it is kept and counts for nothing, for this reason")
    what.add_argument("--counting", action="store_true", help="it counts again")
    what.add_argument(
        "--remove", action="store_true", help="remove it; until the next correction it can be brought back"
    )
    what.add_argument("--drill", metavar="DRILL", help="it was of this drill: judge it so")
    what.add_argument("--eight", type=int, metavar="N", help="it began with this eight")
    what.add_argument("--note", metavar="TEXT", help="put this in the place of its newest note; empty takes it away")
    what.add_argument("--undo", action="store_true", help="undo the last correction")
    parser.add_argument("--file", metavar="FILE", help="another history (default: the one in your data folder)")
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Run the command."""
    from tempo_coach.cli.output import say
    from tempo_coach.coach.correcting import correct_take, undo_last
    from tempo_coach.coach.looking_back import find_history
    from tempo_coach.errors import WrongUsage
    from tempo_coach.report.words.sharing import say_corrected, say_undone

    if (args.take is None) is not args.undo:
        raise WrongUsage("correct.no_take", where="correct")
    file = find_history(args.file)
    say(say_undone(undo_last(file)) if args.undo else say_corrected(correct_take(file, args.take, *_asked(args))))
    return 0


def _asked(args: argparse.Namespace) -> tuple[CorrectionKind, str | int]:
    """Return what is to be put right, and to what."""
    given: tuple[tuple[CorrectionKind, str | int | None], ...] = (
        ("move", args.to),
        ("not counting", args.not_counting),
        ("drill", args.drill),
        ("eight", args.eight),
        ("note", args.note),
    )
    for kind, value in given:
        if value is not None:
            return kind, value
    return ("remove" if args.remove else "counting"), ""
