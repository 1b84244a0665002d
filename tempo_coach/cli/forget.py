"""``tempo-coach forget``: an athlete removed for good."""

from __future__ import annotations

from typing import TYPE_CHECKING

from tempo_coach.cli.options import add_json, examples
from tempo_coach.languages import tr

if TYPE_CHECKING:
    import argparse


def add(parser: argparse.ArgumentParser) -> None:
    """Add what the command reads."""
    parser.description = tr(
        "Show what would be removed with an athlete: takes, scorecards, notes. Then ask, and remove it for good, "
        "from the file of the history too."
    )
    parser.epilog = examples("tempo-coach forget Ada")
    parser.add_argument("athlete", metavar="ATHLETE", help="her name, as it stands in the history")
    parser.add_argument("--yes", action="store_true", help="remove it without asking")
    parser.add_argument("--file", metavar="FILE", help="another history (default: the one in your data folder)")
    add_json(parser)
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Run the command."""
    import sys

    from tempo_coach.cli.output import print_json, say, warn
    from tempo_coach.coach.looking_back import find_going, find_history, forget_athlete
    from tempo_coach.report.words.history import format_going, going_to_dict

    file = find_history(args.file)
    going = find_going(file, args.athlete)
    if args.json:
        print_json(going_to_dict(going))
    else:
        print(format_going(going), flush=True)
    if not args.yes and not (sys.stdin.isatty() and _agreed(going.athlete)):
        warn(tr("Nothing was removed. Give --yes to remove it."))
        return 1
    forget_athlete(file, going)
    say(tr("{athlete} is forgotten.", athlete=going.athlete))
    return 0


def _agreed(name: str) -> bool:
    """Return whether the name was typed once more."""
    import sys

    print(
        tr("Type {name} to remove all of this, anything else to keep it: ", name=name),
        end="",
        file=sys.stderr,
        flush=True,
    )
    return sys.stdin.readline().strip() == name
