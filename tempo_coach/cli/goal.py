"""``tempo-coach goal``: what is to be even by when, and whether it is on the way."""

from __future__ import annotations

from typing import TYPE_CHECKING

from tempo_coach.cli.options import add_json, examples, refuse_unused
from tempo_coach.languages import tr

if TYPE_CHECKING:
    import argparse
    from datetime import date


def add(parser: argparse.ArgumentParser) -> None:
    """Add what the command reads."""
    parser.description = tr(
        "Without a drill: the goals of a person, whether each is on the way, and the weeks that lead there. With "
        "one: keep a goal for it."
    )
    parser.epilog = examples(
        "tempo-coach goal clubs_mills --athlete Ada --tempo 112 --cues ones --by 2099-03-14",
        "tempo-coach goal --athlete Ada",
        "tempo-coach goal --athlete Ada --drop clubs_mills",
    )
    parser.add_argument("drill", metavar="DRILL", nargs="?", help="name or file of a drill")
    parser.add_argument(
        "--athlete", metavar="NAME", help="whose: her name or its first letters (default: who was last)"
    )
    parser.add_argument("--by", metavar="DAY", help="the day, such as 2031-03-14")
    parser.add_argument("--tempo", type=float, metavar="BPM", help="beats a minute at which it is to be even")
    parser.add_argument(
        "--cues", choices=("all", "alternate", "ones", "none"), default="none", help="with which cues (default none)"
    )
    parser.add_argument("--what", default="", metavar="TEXT", help="what it is for")
    parser.add_argument("--drop", metavar="DRILL", help="take the goals of this drill away")
    parser.add_argument("--file", metavar="FILE", help="another history (default: the one in your data folder)")
    add_json(parser)
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Run the command."""
    from datetime import date

    from tempo_coach.cli.output import print_json, say
    from tempo_coach.coach.athletes import find_name
    from tempo_coach.coach.goals import Goal, drop_goal, judge_goals, set_goal
    from tempo_coach.coach.looking_back import find_history
    from tempo_coach.errors import WrongUsage
    from tempo_coach.report.words.amounts import several
    from tempo_coach.report.words.todays_list import format_goals, goals_to_dict, say_goal

    refuse_unused(args, "by tempo cues what", "without a drill", unless=args.drill is not None)
    refuse_unused(args, "drop", "with a drill", unless=args.drill is None)
    file = find_history(args.file)
    name, day = find_name(file, args.athlete), date.today()
    if args.drop is not None:
        say(tr("{goals} of {name} taken away.", goals=several(drop_goal(file, name, args.drop), "goal"), name=name))
        return 0
    if args.drill is not None:
        if args.by is None or args.tempo is None:
            raise WrongUsage("goal.day_and_tempo", where="goal")
        goal = Goal(args.drill, _read_day(args.by), args.tempo, args.cues, args.what)
        set_goal(file, name, goal, day=day)
        say(f"{name}: {say_goal(goal, args.drill)}.")
        return 0
    told = judge_goals(file, name, day=day)
    if args.json:
        print_json(goals_to_dict(told))
    else:
        print(format_goals(told))
    return 0


def _read_day(said: str) -> date:
    from datetime import date

    from tempo_coach.errors import CoachError

    try:
        return date.fromisoformat(said.strip())
    except ValueError:
        raise CoachError("goal.no_day", where="--by", text=said[:40]) from None
