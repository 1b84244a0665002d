"""``tempo-coach learn``: a drill out of a good take's trace."""

from __future__ import annotations

from typing import TYPE_CHECKING

from tempo_coach.cli.options import add_force, examples
from tempo_coach.languages import tr

if TYPE_CHECKING:
    import argparse


def add(parser: argparse.ArgumentParser) -> None:
    """Add what the command reads."""
    from tempo_coach.cli.trace import add_reading

    parser.description = tr(
        "Make a drill of a good take: its circles fall in the cycle where they fell in the take. How steady that "
        "was stands beside it."
    )
    parser.epilog = examples("tempo-coach learn wrist.csv --counts 4 --apparatus rope --hand right --out learned.toml")
    parser.add_argument("trace", metavar="TRACE.csv", help="a table with a header: time and positions or readings")
    parser.add_argument("--out", metavar="DRILL.toml", required=True, help="write the drill here")
    parser.add_argument("--counts", type=float, metavar="N", help="how many counts a cycle has (default: from --tempo)")
    parser.add_argument(
        "--tempo", type=float, metavar="BPM", help="beats a minute of the take, which give the counts of a cycle"
    )
    parser.add_argument(
        "--apparatus", default="none", metavar="NAME", help="rope, hoop, ball, clubs, ribbon or none (default)"
    )
    parser.add_argument(
        "--title", metavar="WORDS", help="what it is called on the screen (default: its name in plain words)"
    )
    parser.add_argument(
        "--hand",
        metavar="NAME",
        help="which hand did it, where only one is in the table (default: as the names in its header say)",
    )
    add_reading(parser)
    add_force(parser)
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Run the command."""
    from pathlib import Path

    from tempo_coach.cli.output import check_outputs, write_text
    from tempo_coach.cli.trace import look
    from tempo_coach.coach import load_drill
    from tempo_coach.coach.tracing import check_apparatus, learn_drill
    from tempo_coach.errors import CoachError
    from tempo_coach.report.words.learned import format_learned, write_drill

    check_apparatus(args.apparatus, where="--apparatus")
    for name in ("counts", "tempo"):
        value = getattr(args, name)
        if value is not None and not 0 < value <= 400:
            raise CoachError("learn.not_above_zero", where=f"--{name}", value=value)
    check_outputs(args, "out")
    trace, found = look(args)
    learned = learn_drill(
        found,
        title=args.title or Path(args.out).stem.replace("_", " "),
        apparatus=args.apparatus,
        counts=args.counts,
        tempo_bpm=args.tempo,
        hand=args.hand,
    )
    write_text(args.out, write_drill(learned), force=args.force)
    print(format_learned(learned, load_drill(args.out), trace, path=args.out))
    return 0
