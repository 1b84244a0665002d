"""``tempo-coach report``: a page to read, send and print."""

from __future__ import annotations

from typing import TYPE_CHECKING

from tempo_coach.cli.options import PASSAGE, add_force, examples, refuse_unused
from tempo_coach.languages import tr

if TYPE_CHECKING:
    import argparse
    from pathlib import Path


def add(parser: argparse.ArgumentParser) -> None:
    """Add what the command reads."""
    from tempo_coach.cli.group import add_members

    parser.description = tr(
        "Write one page for a browser, which needs no net: of a take (a number of the history or a file), of an "
        "athlete over time, or of a group."
    )
    parser.epilog = examples(
        "tempo-coach report 1 --out take.html",
        "tempo-coach report --athlete Ada --out ada.html",
        "tempo-coach report --gymnast Ada --out for_ada.html",
        "tempo-coach report clapping.csv --tempo 120 --group --out group.html",
    )
    parser.add_argument(
        "takes",
        metavar="TAKE",
        nargs="*",
        help="a number of the history or a take's file; with --group, the members as the command group takes them",
    )
    which = parser.add_argument_group("what it is of")
    which.add_argument("--athlete", metavar="NAME", help="all takes of an athlete in the history")
    which.add_argument("--drill", metavar="DRILL", help="with --athlete: of this drill alone; with --group: its drill")
    which.add_argument(
        "--since",
        metavar="DAY",
        help="with --athlete: the first day: a date such as 2031-05-04, today, or so many days ago",
    )
    which.add_argument(
        "--gymnast", metavar="NAME", help="one page for her and her parents: three sentences, one picture"
    )
    which.add_argument(
        "--table",
        action="store_true",
        help="a table for the coach, of everybody by drills; with --athlete: of her alone",
    )
    which.add_argument("--group", action="store_true", help="the takes are members of a group")
    which.add_argument("--title", default="A group", metavar="TEXT", help="title of a group's page (default: A group)")
    add_members(parser)
    where = parser.add_argument_group("where to")
    where.add_argument("--out", metavar="FILE.html", help="write the page here")
    where.add_argument(
        "--pdf", metavar="FILE.pdf", help="write it as a PDF on A4; needs a browser on this computer that prints"
    )
    where.add_argument("--file", metavar="FILE", help="another history (default: the one in your data folder)")
    add_force(parser)
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Run the command."""
    from tempo_coach.cli.output import check_outputs
    from tempo_coach.errors import CoachError

    if not (args.out or args.pdf):
        raise CoachError("report.nothing_to_write", where="report")
    check_outputs(args, "out", "pdf")
    if args.pdf:
        from tempo_coach.report.pages.page import check_browser

        check_browser()
    page = _make(args)
    check_outputs(args, "out", "pdf")  # by now the history has been read
    write_page(args, page)
    return 0


def write_page(args: argparse.Namespace, page: str) -> None:
    """Write a page where ``--out`` and ``--pdf`` say, and print where that is."""
    from tempo_coach.cli.output import Progress, write_text

    if args.out:
        write_text(args.out, page, force=args.force)
    if args.pdf:
        from tempo_coach.report.pages.page import print_page

        with Progress("printing the page") as progress:
            progress(0.0)
            print_page(page, args.pdf)
    from tempo_coach.report.words.amounts import join_words

    print(join_words(filter(None, (args.out, args.pdf)), "{first} and {second}"))


def _make(args: argparse.Namespace) -> str:
    from tempo_coach import coach
    from tempo_coach.coach.looking_back import find_history
    from tempo_coach.errors import CoachError

    file = find_history(args.file)
    by_drills = args.table or args.gymnast
    if (
        sum(
            (
                bool(args.athlete or args.table),
                bool(args.gymnast),
                bool(args.group),
                bool(args.takes) and not args.group,
            )
        )
        != 1
    ):
        raise CoachError("report.nothing_named", where="report")
    members = f"title plan {PASSAGE} place canon exchange routine clock hall kind film first_clap"
    refuse_unused(args, members, "without --group", unless=args.group)
    refuse_unused(args, "drill", "without --athlete or --group", unless=args.athlete or args.group)
    refuse_unused(args, "since", "without --athlete", unless=args.athlete)
    refuse_unused(args, "drill since", "with --table", unless=not args.table)
    of_history = (
        args.athlete or by_drills or any(map(coach.names_history, args.takes if args.group else args.takes[:1]))
    )
    refuse_unused(args, "file", "where no take is of the history", unless=of_history)
    if by_drills:
        return _by_drills(args, file)
    if args.athlete:
        return _of_athlete(args, file)
    if args.group:
        from tempo_coach.cli.group import judge
        from tempo_coach.report.pages.group import group_page

        return group_page(judge(args).card, title=args.title)
    if len(args.takes) > 1:
        raise CoachError("report.several_takes", where="report")
    return _of_take(args.takes[0], file)


def _of_athlete(args: argparse.Namespace, file: Path) -> str:
    from tempo_coach.coach.overviews import athlete_page_of

    return athlete_page_of(file, args.athlete, drill=args.drill, since=args.since)


def _by_drills(args: argparse.Namespace, file: Path) -> str:
    from datetime import date

    from tempo_coach.coach.athletes import find_name
    from tempo_coach.coach.overviews import gymnast_page_of, table_page_of

    if args.gymnast:
        return gymnast_page_of(file, find_name(file, args.gymnast), day=date.today())
    return table_page_of(file, find_name(file, args.athlete) if args.athlete else None, day=date.today())


def _of_take(said: str, file: Path) -> str:
    from pathlib import Path

    from tempo_coach.cli.output import warn
    from tempo_coach.coach import archiving
    from tempo_coach.errors import CoachError
    from tempo_coach.report.pages.take import take_page

    if said.isdigit():
        return archiving.take_page_in(file, int(said))
    if not Path(said).exists():
        raise CoachError("report.no_such_file", where=said, athlete=said if said.isalpha() else None)
    card, begun = archiving.judge_take_file(said, warn=warn)
    return take_page(card, begun=begun)
