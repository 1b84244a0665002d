"""``tempo-coach compare``: what a drill teaches beside what a trace shows."""

from __future__ import annotations

from typing import TYPE_CHECKING

from tempo_coach.cli.options import add_json, examples
from tempo_coach.languages import tr

if TYPE_CHECKING:
    import argparse


def add(parser: argparse.ArgumentParser) -> None:
    """Add what the command reads."""
    from tempo_coach.cli.trace import add_reading

    parser.description = tr(
        "Set where in the cycle a drill has its circles beside where a recorded movement has them, in per cent of "
        "the cycle, and say how many counts each was early or late."
    )
    parser.epilog = examples("tempo-coach compare rope_figure_eight wrist.csv")
    parser.add_argument("drill", metavar="DRILL", help="name or file of a drill")
    parser.add_argument("trace", metavar="TRACE.csv", help="a table with a header: time and positions or readings")
    add_reading(parser)
    add_json(parser)
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Run the command."""
    from tempo_coach.cli.output import print_json
    from tempo_coach.cli.trace import look
    from tempo_coach.coach import load_drill
    from tempo_coach.report.words.comparison import comparison_to_dict, format_comparison

    drill = load_drill(args.drill)
    _, found = look(args)
    if args.json:
        print_json(comparison_to_dict(drill, found))
    else:
        print(format_comparison(drill, found))
    return 0
