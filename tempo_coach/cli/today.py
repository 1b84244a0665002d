"""``tempo-coach today``: a session made for one person, or the lists of a group."""

from __future__ import annotations

from typing import TYPE_CHECKING

from tempo_coach.cli.options import add_force, add_json, examples, refuse_unused
from tempo_coach.languages import tr

if TYPE_CHECKING:
    import argparse


def add(parser: argparse.ArgumentParser) -> None:
    """Add what the command reads."""
    parser.description = tr(
        "Today's practice for one person, made of her takes and goals: a slow warm-up, blocks in mixed order on "
        "what is least even, broke last or has rested long, a last one as in competition. On a terminal it opens "
        "on the screen, where Enter starts each of them; a session that is broken off goes on."
    )
    parser.epilog = examples(
        "tempo-coach today --athlete Ada --list",
        "tempo-coach today --athlete Ada --minutes 10 --list",
        "tempo-coach today --group Ada --group Bea --out today.html",
    )
    parser.add_argument(
        "--athlete", metavar="NAME", help="whose: her name or its first letters (default: who was last)"
    )
    parser.add_argument(
        "--group",
        metavar="NAME",
        action="append",
        default=[],
        help="one of a group of up to 12, whose lists are set side by side",
    )
    parser.add_argument("--minutes", type=int, metavar="N", help="10, 20 or 40 (default: as last time)")
    parser.add_argument("--anew", action="store_true", help="plan it anew, whatever was begun today")
    parser.add_argument("--list", action="store_true", help="print it and open no screen")
    parser.add_argument("--out", metavar="FILE.html", help="write it as a page to print")
    parser.add_argument("--pdf", metavar="FILE.pdf", help="write it as a PDF on A4; needs a browser that prints")
    parser.add_argument("--file", metavar="FILE", help="another history (default: the one in your data folder)")
    add_json(parser)
    add_force(parser)
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Run the command."""
    import sys
    from datetime import date

    from tempo_coach.cli.output import check_outputs, print_json
    from tempo_coach.coach.athletes import find_name
    from tempo_coach.coach.looking_back import find_history
    from tempo_coach.coach.todays_practice import check_group, open_group, open_today
    from tempo_coach.report.words.todays_list import format_session, session_to_dict

    refuse_unused(args, "athlete anew", "with --group", unless=not args.group)
    refuse_unused(args, "json list", "with --out or --pdf", unless=not (args.out or args.pdf))
    check_outputs(args, "out", "pdf")
    file = find_history(args.file)
    day = date.today()
    names = [find_name(file, name) for name in args.group] or [find_name(file, args.athlete)]
    on_paper = args.list or args.json or args.out or args.pdf or args.plain or args.file
    if not on_paper and sys.stdin.isatty() and sys.stdout.isatty():
        from tempo_coach.ui.terminal import run_today

        if args.group:
            check_group(names)
        run_today(file, names[0], minutes=args.minutes, anew=args.anew, group=names if args.group else ())
        return 0
    if args.group:
        todays = open_group(file, names, day=day, minutes=args.minutes)
    else:
        todays = (open_today(file, names[0], day=day, minutes=args.minutes, anew=args.anew),)
    if args.out or args.pdf:
        from tempo_coach.cli.report import write_page
        from tempo_coach.report.pages.todays_list import todays_page

        drills = {name: drill for today in todays for name, drill in today.drills.items()}
        page = todays_page(
            [(each.person, each.record) for each in todays],
            {name: drill.title for name, drill in drills.items()},
            cautions={name: drill.caution for name, drill in drills.items()},
        )
        write_page(args, page)
    elif args.json:
        told = [session_to_dict(each.person.name, each.record) for each in todays]
        print_json([*told] if args.group else told[0])
    else:
        print(
            "\n\n".join(
                format_session(
                    each.person.name,
                    each.record,
                    {name: drill.title for name, drill in each.drills.items()},
                    cautions={name: drill.caution for name, drill in each.drills.items()},
                )
                for each in todays
            )
        )
    return 0
