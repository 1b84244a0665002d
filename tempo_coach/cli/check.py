"""``tempo-coach check``: a routine's lengths against a table of rules."""

from __future__ import annotations

from typing import TYPE_CHECKING

from tempo_coach.cli.options import add_json, examples, refuse_unused
from tempo_coach.languages import tr

if TYPE_CHECKING:
    import argparse


def add(parser: argparse.ArgumentParser) -> None:
    """Add what the command reads."""
    parser.description = tr(
        "Hold length, introduction and dance steps of a routine against a table of rules, and say what is too "
        "long, too short or missing. Always check the code in force as well."
    )
    parser.epilog = examples("tempo-coach check routine.toml --code until_2024", "tempo-coach check --list")
    parser.add_argument("routine", metavar="ROUTINE", nargs="?", help="a routine's file, as counts saves it")
    parser.add_argument(
        "--code",
        metavar="NAME",
        help="which table of rules: its name, or a file of your own (default: until_2024)",
    )
    parser.add_argument(
        "--age", default="seniors", metavar="CLASS", help="age class, as the table calls it (default: seniors)"
    )
    parser.add_argument(
        "--list", action="store_true", help="list the tables that came with the program, and their rows"
    )
    add_json(parser)
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Run the command."""
    from tempo_coach import coach
    from tempo_coach.cli.output import Progress, print_json, warn
    from tempo_coach.coach.rules import DEFAULT_CODE, list_codes, read_code
    from tempo_coach.errors import WrongUsage
    from tempo_coach.report.words.rules import CHECK_THE_CODE, checked_values, describe_check, describe_code

    if args.list:
        refuse_unused(args, "code age json", "with --list")
        for path in list_codes():
            print(describe_code(read_code(path)))
        print(tr(CHECK_THE_CODE))
        return 0
    if not args.routine:
        raise WrongUsage("check.no_routine", where="check")
    code = read_code(args.code or DEFAULT_CODE)  # before the music is heard, which takes its time
    with Progress("hearing the music") as progress:
        opened = coach.open_routine(args.routine, warn=warn, progress=progress)
    for note in opened.said:
        warn(note)
    findings = coach.check_rules(opened, code, age=args.age)
    if args.json:
        print_json(checked_values(opened.routine, code, findings))
    else:
        print(describe_check(opened.routine, code, findings))
    return 0
