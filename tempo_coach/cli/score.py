"""``tempo-coach score``: onsets against a plan."""

from __future__ import annotations

from typing import TYPE_CHECKING

from tempo_coach.cli.options import add_json, add_passage, read_request

if TYPE_CHECKING:
    import argparse

    from tempo_coach.score.card import Scorecard


def add(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add the command."""
    parser = commands.add_parser(
        "score",
        help="judge onsets against a plan: which cycle broke and how",
        description="Judge a table of onsets (columns time and hand) against a plan, or a take again.",
        epilog="Example: tempo-coach score onsets.csv --plan mills.json",
    )
    parser.add_argument("onsets", metavar="ONSETS.csv", nargs="?", help="columns time (s on the take clock) and hand")
    which = parser.add_mutually_exclusive_group(required=True)
    which.add_argument("--plan", metavar="PLAN.json", help="the plan that cue wrote")
    which.add_argument("--drill", metavar="DRILL", help="a drill, with the options that cue was given")
    which.add_argument("--take", metavar="FILE", help="a take that practise recorded, with its plan and onsets")
    add_passage(parser)
    add_json(parser)
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Run the command."""
    from tempo_coach.cli.output import print_json
    from tempo_coach.report.words import card_to_dict, format_card

    card = _judge(args)
    if args.json:
        print_json(card_to_dict(card))
    else:
        print(format_card(card))
    return 0


def _judge(args: argparse.Namespace) -> Scorecard:
    from tempo_coach import coach
    from tempo_coach.cli.output import Progress, warn
    from tempo_coach.errors import CoachError
    from tempo_coach.pattern.planfile import read_plan

    if args.take:
        from tempo_coach.observe.takefile import read_take

        return coach.judge_take(read_take(args.take))
    if not args.onsets:
        raise CoachError("expected a table of onsets", where="score", hint="name the CSV file, or give --take")
    if args.plan:
        plan = read_plan(args.plan)
    else:
        with Progress("hearing the music") as progress:
            plan = coach.lay(read_request(args, args.drill), warn=warn, progress=progress)
    return coach.judge_file(args.onsets, plan, warn=warn)
