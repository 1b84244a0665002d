"""``tempo-coach history``: the takes that were kept, and how it goes on."""

from __future__ import annotations

from typing import TYPE_CHECKING

from tempo_coach.cli.options import add_force, add_json, examples, refuse_unused
from tempo_coach.cli.workers import WORKERS, add_workers, check_workers, count_jobs
from tempo_coach.languages import tr

if TYPE_CHECKING:
    import argparse
    from collections.abc import Callable, Mapping
    from pathlib import Path

    from tempo_coach.coach.looking_back import Wanted

#: Takes that are listed where nobody says how many.
LISTED = 40
#: Takes from which on more processes judge faster than one.
MANY = 500


def add(parser: argparse.ArgumentParser) -> None:
    """Add what the command reads."""
    parser.description = tr("List the takes that were kept, the newest last, or do one thing with them.")
    parser.epilog = examples(
        "tempo-coach history",
        "tempo-coach history --athlete Ada --drill clubs_mills --trend",
        "tempo-coach history --group juniors",
        "tempo-coach history --backup copy.sqlite",
    )
    which = parser.add_argument_group("which takes")
    which.add_argument("--athlete", metavar="NAME", help="only hers")
    which.add_argument("--drill", metavar="DRILL", help="only of this drill")
    which.add_argument("--routine", metavar="NAME", help="only of this routine: its name, or its file")
    which.add_argument(
        "--since", metavar="DAY", help="the first day: a date such as 2031-05-04, today, or so many days ago"
    )
    which.add_argument("--until", metavar="DAY", help="the last day, given likewise")
    which.add_argument("--words", default="", metavar="TEXT", help="words that have to be in the line of the take")
    which.add_argument(
        "--last",
        type=int,
        metavar="N",
        help=tr("so many of the newest (default {listed} where they are listed)", listed=LISTED),
    )
    what = parser.add_mutually_exclusive_group()
    what.add_argument(
        "--trend",
        action="store_true",
        help="whether it gets better: over takes, from one day to the next, and up to which tempo it is steady",
    )
    what.add_argument(
        "--group",
        metavar="GROUP",
        help="the performances of a group that group --keep kept: how together it gets, and each member in it",
    )
    what.add_argument("--athletes", action="store_true", help="who is in the history")
    what.add_argument("--show", type=int, metavar="TAKE", help="everything about one take, by its number")
    what.add_argument(
        "--screen", action="store_true", help="open it on the screen: look through, set side by side, note"
    )
    what.add_argument(
        "--take-in",
        nargs="+",
        metavar="FILE",
        help="put takes from files that practise wrote into the history, for --athlete",
    )
    what.add_argument("--note", nargs=2, metavar=("TAKE", "TEXT"), help="keep a note on a take")
    what.add_argument("--rescore", action="store_true", help="judge the takes again; old scorecards are kept")
    what.add_argument("--backup", metavar="FILE", help="write a copy of the whole history")
    what.add_argument("--restore", metavar="FILE", help="put a backup in the place of the history")
    what.add_argument("--check", action="store_true", help="read the whole history once and say whether it is sound")
    how = parser.add_argument_group("how")
    how.add_argument("--csv", metavar="FILE", help="write the takes as a table for a spreadsheet")
    add_workers(how, of_files=False)
    how.add_argument(
        "--begun",
        metavar="TIME",
        help="with --take-in: date and time, such as 2031-05-04T18:15 (default: as the file says)",
    )
    how.add_argument("--file", metavar="FILE", help="another history (default: the one in your data folder)")
    add_json(parser)
    add_force(parser)
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Run the command."""
    from tempo_coach.coach.looking_back import find_history

    _refuse_unused(args)
    file = find_history(args.file)
    for name in ("take_in", "note", "rescore", "backup", "restore", "screen"):
        if getattr(args, name) and not (name == "screen" and args.plain):
            return _DOINGS[name](args, file)
    return _read(args, file)


def _refuse_unused(args: argparse.Namespace) -> None:
    """Refuse options without effect on the chosen action."""
    doings = (
        "trend",
        "group",
        "athletes",
        "show",
        "screen",
        "take_in",
        "note",
        "rescore",
        "backup",
        "restore",
        "check",
    )
    doing = next((name for name in doings if name in args.given), "")
    told = tr("with --{replace}", replace=doing.replace("_", "-"))
    if doing not in ("", "trend", "screen", "rescore"):
        refuse_unused(args, "drill since until", told, unless=doing == "group")
        refuse_unused(args, "routine words last", told)
        refuse_unused(args, "athlete", told, unless=doing == "take_in")
    refuse_unused(args, "last", told, unless=doing != "screen" or args.plain)
    refuse_unused(args, "csv", told, unless=not doing)
    refuse_unused(args, "json", told, unless=doing in ("", "trend", "group", "athletes", "show"))
    refuse_unused(args, "json", "with --csv", unless=not args.csv)
    refuse_unused(args, WORKERS, "without --rescore", unless=doing == "rescore")
    refuse_unused(args, "begun", "without --take-in", unless=doing == "take_in")


def _read(args: argparse.Namespace, file: Path) -> int:
    """Carry out an action that only reads."""
    from tempo_coach.cli.output import check_outputs, print_json, write_text
    from tempo_coach.coach import looking_back
    from tempo_coach.report.words import history as words
    from tempo_coach.report.words.amounts import several
    from tempo_coach.report.words.team import format_team, team_to_dict

    check_outputs(args, "csv", inputs=(file,))
    wanted = _wanted(
        args, file, LISTED if args.last is None and not (args.json or args.csv or args.trend) else args.last
    )
    if args.check:
        looking_back.check_history(file)
        print(tr("{file}: whole", file=file))
        return 0

    def tell(values: Callable[[], Mapping[str, object] | list[object]], text: Callable[[], str]) -> int:
        if args.json:
            print_json(values())
        else:
            print(text())
        return 0

    if args.athletes:
        athletes = looking_back.list_athletes(file)
        return tell(lambda: [athlete._asdict() for athlete in athletes], lambda: words.format_athletes(athletes))
    if args.group is not None:
        found = looking_back.list_performances(file, args.group, wanted, where="--group")
        return tell(lambda: team_to_dict(found), lambda: format_team(found))
    if args.show is not None:
        kept, card = looking_back.show_take(file, args.show)
        return tell(lambda: words.kept_to_dict(kept), lambda: words.format_kept(kept, card))
    rows, all_takes = looking_back.find_rows(file, wanted)
    if args.csv:
        write_text(args.csv, words.rows_to_csv(rows), force=args.force)
        print(f"{several(len(rows), 'take')} -> {args.csv}")
        return 0
    if args.trend:
        rows = tuple(row for row in rows if not row.reason)
        looking_back.refuse_two_courses(rows, where="--trend")
        return tell(lambda: words.progress_to_dict(rows), lambda: words.format_progress(rows))
    return tell(lambda: [row.to_dict() for row in rows], lambda: words.format_rows(rows, all_takes=all_takes))


def _wanted(args: argparse.Namespace, file: Path, last: int | None) -> Wanted:
    from tempo_coach.coach.looking_back import make_wanted
    from tempo_coach.errors import WrongUsage

    if args.last is not None and args.last < 1:
        raise WrongUsage("history.last", where="--last", last=args.last)
    return make_wanted(
        file,
        athlete=args.athlete,
        drill=args.drill,
        routine=args.routine,
        since=args.since,
        until=args.until,
        words=args.words,
        last=last,
    )


def _take_in(args: argparse.Namespace, file: Path) -> int:
    from tempo_coach.cli.output import warn
    from tempo_coach.coach import archiving
    from tempo_coach.coach.looking_back import SOMEBODY

    for path in args.take_in:
        number = archiving.keep_take_file(
            path, athlete=args.athlete or SOMEBODY, begun=args.begun, file=file, warn=warn
        )
        print(tr("{path}: take {number} of {athlete}", path=path, number=number, athlete=args.athlete or SOMEBODY))
    return 0


def _note(args: argparse.Namespace, file: Path) -> int:
    from tempo_coach.coach.looking_back import put_note
    from tempo_coach.errors import WrongUsage

    number, text = args.note
    if not number.isdigit():
        raise WrongUsage("history.no_take_number", where="--note", found=number[:40])
    put_note(file, int(number), text)
    print(tr("noted on take {number}", number=number))
    return 0


def _rescore(args: argparse.Namespace, file: Path) -> int:
    from tempo_coach.cli.output import Progress
    from tempo_coach.coach import archiving
    from tempo_coach.coach.looking_back import find_rows, now
    from tempo_coach.report.words.amounts import several

    check_workers(args, where="--rescore")
    numbers = [row.number for row in find_rows(file, _wanted(args, file, args.last))[0]]
    jobs = count_jobs(args, len(numbers), many=MANY)
    with Progress("judging again") as progress:
        changed = archiving.rescore(
            numbers, made=now(), file=file, jobs=jobs, scheduler=args.scheduler, progress=progress
        )
    print(
        tr(
            "{takes} judged again; scorecards that changed: {changed}; the old ones are kept",
            takes=several(len(numbers), "take"),
            changed=changed,
        )
    )
    return 0


def _backup(args: argparse.Namespace, file: Path) -> int:
    from pathlib import Path

    from tempo_coach.cli.output import check_outputs
    from tempo_coach.coach.looking_back import back_up
    from tempo_coach.resources import written_whole

    check_outputs(args, "backup", inputs=(file,))
    with written_whole(Path(args.backup), what="copy") as temporary:
        back_up(file, temporary)
    print(f"{file} -> {args.backup}")
    return 0


def _restore(args: argparse.Namespace, file: Path) -> int:
    from tempo_coach.coach.looking_back import restore

    kept = restore(args.restore, file)
    print(f"{args.restore} -> {file}" + (tr("; what was there is kept as {kept}", kept=kept) if kept else ""))
    return 0


def _screen(args: argparse.Namespace, file: Path) -> int:
    from tempo_coach.ui.history.screen import open_history

    return open_history(file, _wanted(args, file, None))


_DOINGS = {
    "take_in": _take_in,
    "note": _note,
    "rescore": _rescore,
    "backup": _backup,
    "restore": _restore,
    "screen": _screen,
}
