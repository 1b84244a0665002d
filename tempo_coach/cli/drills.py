"""``tempo-coach drills``: the drills that there are, one of them shown, and the file of a new one."""

from __future__ import annotations

from typing import TYPE_CHECKING

from tempo_coach.cli.options import add_json, examples, refuse_unused
from tempo_coach.languages import tr

if TYPE_CHECKING:
    import argparse


def add_options(parser: argparse.ArgumentParser) -> None:
    """Add the options of ``drills new``."""
    group = parser.add_argument_group("with new: what the movement is")
    group.add_argument("--apparatus", metavar="NAME", help="rope, hoop, ball, clubs, ribbon or none")
    group.add_argument("--counts", type=float, metavar="N", help="length of the cycle in counts")
    group.add_argument("--circles", metavar="SAID", help='circles in each phase: "low 1, rise, high 2, fall"')
    group.add_argument(
        "--hands", metavar="NAMES", default="right", help="the hands that do it: right (default), or right,left"
    )
    group.add_argument(
        "--lag", type=float, metavar="N", default=0.0, help="counts that each hand is behind the one before (default 0)"
    )
    group.add_argument(
        "--title", metavar="WORDS", help="what it is called on the screen (default: its name in plain words)"
    )
    group.add_argument("--force", action="store_true", help="replace a file that is there already")


def write_new(args: argparse.Namespace) -> int:
    """Write the file, read it back, and draw it.

    Raises
    ------
    CoachError
        If something is missing or cannot be, or the file exists.
    """
    from pathlib import Path

    from tempo_coach.cli.output import write_text
    from tempo_coach.coach.drills import load_drill, read_circles, write_new_drill
    from tempo_coach.errors import CoachError
    from tempo_coach.report.drawings.drill import draw_drill

    missing = [f"--{name}" for name in ("apparatus", "counts", "circles") if getattr(args, name) is None]
    if not args.drill or missing:
        raise CoachError("drills.new_lacks", where="drills new", named=bool(args.drill), missing=missing)
    path = Path(args.drill if args.drill.endswith(".toml") else f"{args.drill}.toml")
    try:
        text = write_new_drill(
            title=args.title or path.stem.replace("_", " "),
            apparatus=args.apparatus,
            counts=args.counts,
            circles=read_circles(args.circles),
            hands=tuple(hand.strip() for hand in args.hands.split(",")),
            lag=args.lag,
        )
    except CoachError as error:
        raise error.at(f"--{error.where}") from error
    write_text(path, text, force=args.force)
    print(draw_drill(load_drill(str(path))))
    print()
    print(tr("written to {path}: open it and change what you like", path=path))
    return 0


def add(parser: argparse.ArgumentParser) -> None:
    """Add what the command reads."""
    parser.description = tr(
        "List the drills that came with the program, draw one in text, or write the file of a new one."
    )
    parser.epilog = examples(
        "tempo-coach drills",
        "tempo-coach drills show rope_figure_eight",
        'tempo-coach drills new my_eight --apparatus rope --counts 4 --circles "low 1, rise, high 2, fall"',
    )
    parser.add_argument(
        "what", nargs="?", choices=("list", "show", "new"), default="list", help="list (default), show or new"
    )
    parser.add_argument(
        "drill", metavar="DRILL", nargs="?", help="with show: name or file of a drill; with new: its name"
    )
    parser.add_argument("--mirrored", action="store_true", help="with show: left and right change places")
    parser.add_argument("--table", action="store_true", help="with list: as the table that the README has")
    add_options(parser)
    add_json(parser)
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Run the command."""
    from tempo_coach import coach
    from tempo_coach.cli.output import print_json
    from tempo_coach.coach.drills import read_drills
    from tempo_coach.errors import CoachError, WrongUsage
    from tempo_coach.report.drawings.drill import draw_drill
    from tempo_coach.report.pages.library import format_drills, library_table

    refuse_unused(args, "apparatus counts circles hands lag title force", "without new", unless=args.what == "new")
    refuse_unused(args, "mirrored", "without show", unless=args.what == "show")
    refuse_unused(args, "table", "without list", unless=args.what == "list")
    refuse_unused(args, "json", "with new or --table", unless=args.what != "new" and not args.table)
    if args.what == "list" and args.drill:
        raise WrongUsage("drills.list_of_all", where=args.drill)
    if args.what == "new":
        return write_new(args)
    if args.what == "show":
        if not args.drill:
            raise CoachError("drills.no_name", where="drills show")
        drill = coach.load_drill(args.drill, mirrored=args.mirrored)
        if args.json:
            print_json(drill.to_dict())
        else:
            print(draw_drill(drill))
        return 0
    drills = read_drills()
    if args.table:
        print(library_table(drills), end="")
        return 0
    if args.json:
        print_json([drill.to_dict() for drill in drills])
        return 0
    print(format_drills(drills))
    return 0
