"""``tempo-coach correct``: a take of the history put right, or the last correction undone."""

from __future__ import annotations

from typing import TYPE_CHECKING

from tempo_coach.cli.options import examples
from tempo_coach.languages import tr

if TYPE_CHECKING:
    import argparse

    from tempo_coach.history.takes import History


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
    from pathlib import Path

    from tempo_coach.cli.output import say
    from tempo_coach.errors import WrongUsage
    from tempo_coach.history.data_folder import history_file
    from tempo_coach.history.store import Store
    from tempo_coach.history.take_corrections import undo
    from tempo_coach.history.takes import History
    from tempo_coach.report.words.sharing import say_undone

    if (args.take is None) is not args.undo:
        raise WrongUsage("correct.no_take", where="correct")
    file = Path(args.file) if args.file else history_file()
    Store(file, read_only=True).close()  # refuses where there is none instead of making one
    with History(file) as history:
        say(say_undone(undo(history)) if args.undo else _correct(args, history))
    return 0


def _tell(history: History, number: int) -> str:
    from tempo_coach.coach.archiving import judge_kept
    from tempo_coach.report.words.sentence import tell

    return tell(judge_kept(history.take(number)))


def _correct(args: argparse.Namespace, history: History) -> str:
    from datetime import datetime

    from tempo_coach.coach.correcting import correct_drill, correct_eight
    from tempo_coach.history import take_corrections
    from tempo_coach.history.roster import complete_name

    number = args.take
    made = datetime.now().astimezone().isoformat(timespec="seconds")
    back = tr("tempo-coach correct --undo brings it back")
    if args.to is not None:
        names = [each.name for each in history.athletes()]
        take_corrections.move(history, number, to=complete_name(args.to, names), made=made)
        name = history.row(number).athlete
        if name in names:
            return tr("Take {number} is {athlete}'s; {back}.", number=number, athlete=name, back=back)
        return tr("Take {number} is {athlete}'s, who is new here; {back}.", number=number, athlete=name, back=back)
    if args.remove:
        take_corrections.remove(history, number, made=made)
        return tr("Take {number} is removed; until the next correction {back}.", number=number, back=back)
    if args.not_counting is not None or args.counting:
        take_corrections.set_counting(history, number, reason=args.not_counting, made=made)
        return (
            tr("Take {number} counts again.", number=number)
            if args.counting
            else tr("Take {number} does not count any more.", number=number)
        )
    if args.drill is not None:
        correct_drill(history, number, args.drill, made=made)
        row = history.row(number)
        return tr(
            "Take {number} is of {title} now: {sentence}",
            number=number,
            title=tr(row.title),
            sentence=_tell(history, number),
        )
    if args.eight is not None:
        correct_eight(history, number, args.eight, made=made)
        return tr(
            "Take {number} begins with eight {eight} now: {sentence}",
            number=number,
            eight=args.eight,
            sentence=_tell(history, number),
        )
    take_corrections.change_note(history, number, args.note, made=made)
    return (
        tr("The note on take {number} is changed.", number=number)
        if args.note.strip()
        else tr("The note on take {number} is taken away.", number=number)
    )
