"""``tempo-coach drills new``: the file of a new drill, with comments."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import argparse


def add_options(parser: argparse.ArgumentParser) -> None:
    """Add what ``drills new`` asks for."""
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
    from tempo_coach.errors import CoachError
    from tempo_coach.pattern.drillfile import read_drill
    from tempo_coach.pattern.template import read_circles, write_new_drill
    from tempo_coach.report.draw import draw_drill

    missing = [f"--{name}" for name in ("apparatus", "counts", "circles") if getattr(args, name) is None]
    if not args.drill or missing:
        wanted = ", ".join(([] if args.drill else ["a name"]) + missing)
        example = 'tempo-coach drills new my_eight --apparatus rope --counts 4 --circles "low 1, rise, high 2, fall"'
        raise CoachError(f"expected {wanted} too", where="drills new", hint=f"for example: {example}")
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
        raise CoachError(error.message, where=f"--{error.where}", hint=error.hint) from error
    write_text(path, text, force=args.force)
    print(f"{draw_drill(read_drill(path))}\n\nwritten to {path}: open it and change what you like")
    return 0
