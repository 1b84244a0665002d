"""``tempo-coach sheet``: a routine as a count sheet to print."""

from __future__ import annotations

from typing import TYPE_CHECKING

from tempo_coach.cli.options import add_force, examples, refuse_unused
from tempo_coach.languages import tr

if TYPE_CHECKING:
    import argparse

    from tempo_coach.coach import OpenRoutine

_ENDINGS = (".html", ".htm", ".txt")


def add(parser: argparse.ArgumentParser) -> None:
    """Add what the command reads."""
    parser.description = tr("Write the count sheet of a routine: one row an eight, with time, tempo, counts and hands.")
    parser.epilog = examples("tempo-coach sheet routine.toml --out sheet.html")
    parser.add_argument("routine", metavar="ROUTINE", help="a routine's file, as counts saves it")
    parser.add_argument(
        "--out", metavar="FILE", help="write it here: .html for a browser, or .txt (default: it is shown here)"
    )
    parser.add_argument("--pdf", metavar="FILE.pdf", help="write it as a PDF on A4; needs a browser that prints")
    for name, what in (("gymnast", tr("gymnast or group")), ("club", tr("club")), ("season", tr("season"))):
        parser.add_argument(
            f"--{name}",
            metavar="TEXT",
            help=tr("the {what} at the head of a page (default: a line to write it on)", what=what),
        )
    parser.add_argument(
        "--map",
        action="store_true",
        help="say on each eight what the music does there: a section that begins, accents, and whether what is laid "
        "falls on them",
    )
    add_force(parser)
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Run the command."""
    from pathlib import Path

    from tempo_coach import coach
    from tempo_coach.cli.output import Progress, check_outputs, warn, write_text
    from tempo_coach.coach.hearing import map_heard
    from tempo_coach.errors import CoachError
    from tempo_coach.report.pages.page import check_browser, print_page
    from tempo_coach.report.pages.sheet import sheet_page
    from tempo_coach.report.words.sheet import sheet_lines, sheet_text
    from tempo_coach.resources import refuse_existing

    ending = Path(args.out).suffix.lower() if args.out else ".txt"
    if ending not in _ENDINGS:
        raise CoachError("sheet.name_ends", where="--out", endings=[*_ENDINGS], out=args.out)
    on_a_page = ending in _ENDINGS[:2] or args.pdf is not None
    refuse_unused(args, "gymnast club season", "without --pdf or --out of a page", unless=on_a_page)
    check_outputs(args, "out", "pdf")
    if args.pdf:
        check_browser()
    with Progress("hearing the music") as progress:
        opened = coach.open_routine(args.routine, warn=warn, progress=progress)
    for note in opened.said:
        warn(note)
    with Progress("mapping the music") as progress:
        rows = map_heard(opened.heard, counts=opened.counts, progress=progress) if args.map else ()
    sheet = coach.sheet_of(opened, music_map=rows)
    in_text = sheet_lines if args.plain else sheet_text
    page = sheet_page(sheet, head=_head(args, opened)) if on_a_page else ""
    text = f"{in_text(sheet)}\n" if ending == ".txt" else page
    if args.out:
        write_text(args.out, text, force=args.force)
    if args.pdf:
        pdf = refuse_existing(args.pdf, force=args.force)
        with Progress("printing"):
            print_page(page, pdf)
    if not (args.out or args.pdf):
        print(text, end="")
    return 0


def _head(args: argparse.Namespace, opened: OpenRoutine) -> list[tuple[str, str]]:
    """Return the fields at the head of a page; empty ones are left for handwriting."""
    from pathlib import Path

    from tempo_coach.report.words.amounts import say_clock

    routine = opened.routine
    return [
        (tr("gymnast or group"), args.gymnast or ""),
        ("apparatus", "" if routine.apparatus == "none" else routine.apparatus),
        ("club", args.club or ""),
        ("season", args.season or ""),
        ("music", Path(opened.heard.path).name),
        ("length", say_clock(opened.heard.duration)),
    ]
