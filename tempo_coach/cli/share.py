"""``tempo-coach share``: histories of several machines put together, one person's handed over, takes for programs."""

from __future__ import annotations

from typing import TYPE_CHECKING

from tempo_coach.cli.options import add_force, add_json, examples, refuse_unused
from tempo_coach.languages import tr

if TYPE_CHECKING:
    import argparse
    from pathlib import Path


def add(parser: argparse.ArgumentParser) -> None:
    """Add what the command reads."""
    parser.description = tr(
        "Take in what another history has, hand one athlete's takes over as one file, or write takes for other "
        "programs. What is there already comes once; who was forgotten here does not come back unless you say so."
    )
    parser.epilog = examples(
        "tempo-coach share --hand-over Ada --out ada.sqlite",
        "tempo-coach share --merge ada.sqlite",
        "tempo-coach share --export takes.jsonl",
    )
    what = parser.add_mutually_exclusive_group(required=True)
    what.add_argument(
        "--merge", metavar="HISTORY", help="take in a history of another machine, a backup or a hand-over"
    )
    what.add_argument("--hand-over", metavar="NAME", help="write all takes of one athlete to the file --out")
    what.add_argument("--export", metavar="FILE", help="write all takes whole, one a line")
    parser.add_argument("--out", metavar="FILE", help="with --hand-over: the file")
    parser.add_argument("--athlete", metavar="NAME", help="with --export: only hers")
    parser.add_argument(
        "--again",
        metavar="NAME",
        action="append",
        default=[],
        help="with --merge: she comes though she was forgotten here",
    )
    parser.add_argument(
        "--as",
        metavar="NAME=OTHER",
        action="append",
        default=[],
        dest="named",
        help="with --merge: OTHER is her name here",
    )
    parser.add_argument("--file", metavar="FILE", help="another history (default: the one in your data folder)")
    add_json(parser)
    add_force(parser)
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Run the command."""
    from tempo_coach.coach.looking_back import find_history

    refuse_unused(args, "out", "without --hand-over", unless=args.hand_over is not None)
    refuse_unused(args, "athlete", "without --export", unless=args.export is not None)
    refuse_unused(args, "again json", "without --merge", unless=args.merge is not None)
    file = find_history(args.file)
    if args.merge is not None:
        return _merge(args, file)
    return _hand_over(args, file) if args.hand_over is not None else _export(args, file)


def _merge(args: argparse.Namespace, file: Path) -> int:
    import sys

    from tempo_coach.cli.output import Progress, print_json
    from tempo_coach.coach.sharing import merge_histories
    from tempo_coach.errors import WrongUsage
    from tempo_coach.report.words.sharing import format_merged, merged_to_dict

    rename = {}
    for word in args.named:
        name, equals, other = word.partition("=")
        if not (name.strip() and equals and other.strip()):
            raise WrongUsage("share.no_other", where="--as", found=word[:40])
        rename[name.strip()] = other.strip()
    with Progress("taking it in") as progress:
        progress(0.0)
        merged = merge_histories(file, args.merge, again=args.again, rename=rename)
    if merged.forgotten and sys.stdin.isatty() and not args.json:
        back = [name for name in merged.forgotten if _asked(name)]
        if back:
            merged = merge_histories(file, args.merge, again=[*args.again, *back], rename=rename)
    if args.json:
        print_json(merged_to_dict(merged))
    else:
        print(format_merged(merged))
    return 0


def _asked(name: str) -> bool:
    """Ask whether a forgotten person may come back, by typing her name once more."""
    import sys

    print(
        tr("{name} was forgotten here. Type her name to bring her back, or press Enter: ", name=name),
        end="",
        file=sys.stderr,
    )
    return sys.stdin.readline().strip() == name


def _hand_over(args: argparse.Namespace, file: Path) -> int:
    from tempo_coach.cli.output import check_outputs
    from tempo_coach.coach.athletes import find_name
    from tempo_coach.coach.sharing import hand_over_person
    from tempo_coach.errors import WrongUsage
    from tempo_coach.report.words.amounts import several

    if not args.out:
        raise WrongUsage("share.no_out", where="--hand-over")
    check_outputs(args, "out", inputs=(file,))
    takes = hand_over_person(file, find_name(file, args.hand_over), args.out)
    print(f"{several(takes, 'take')} -> {args.out}")
    return 0


def _export(args: argparse.Namespace, file: Path) -> int:
    from pathlib import Path

    from tempo_coach.cli.output import Progress, check_outputs
    from tempo_coach.coach.athletes import find_name
    from tempo_coach.coach.sharing import export_lines
    from tempo_coach.report.words.amounts import several
    from tempo_coach.resources import written_whole

    check_outputs(args, "export", inputs=(file,))
    takes = 0
    athlete = find_name(file, args.athlete) if args.athlete else None
    with (
        Progress("writing") as progress,
        written_whole(Path(args.export)) as temporary,
        temporary.open("w", encoding="utf-8") as out,
    ):
        for line in export_lines(file, athlete=athlete, progress=progress):
            out.write(line)
            takes += 1
    print(f"{several(takes, 'take')} -> {args.export}")
    return 0
