"""``tempo-coach counts``: set the counts of a routine on a screen."""

from __future__ import annotations

from typing import TYPE_CHECKING

from tempo_coach.cli.options import add_hints, check_devices, check_hints, examples, refuse_unused
from tempo_coach.languages import tr

if TYPE_CHECKING:
    import argparse


def add(parser: argparse.ArgumentParser) -> None:
    """Add what the command reads."""
    parser.description = tr(
        "Open the counts of a piece of music on the screen, a row an eight: put them right, lay drills on them, "
        "listen with clicks, and save it all as a routine."
    )
    parser.epilog = examples("tempo-coach counts music.mp3", "tempo-coach counts routine.toml")
    parser.add_argument("file", metavar="FILE", help="a sound file, or a routine's file")
    parser.add_argument("--routine", metavar="FILE.toml", help="save the routine here (default: beside the music)")
    add_hints(parser)
    parser.add_argument(
        "--device", metavar="NAME", help="play through this loudspeaker: part of its name; none: without sound"
    )
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Run the command."""
    from pathlib import Path

    from tempo_coach import coach
    from tempo_coach.cli.output import Progress, warn
    from tempo_coach.errors import CoachError
    from tempo_coach.report.words.reasons import say_reason
    from tempo_coach.report.words.sheet import sheet_lines
    from tempo_coach.ui.terminal import check_terminal, run_counts

    file = Path(args.file)
    check_hints(args)
    refuse_unused(args, "routine", "with a routine's file, which it is saved to", unless=file.suffix.lower() != ".toml")
    if not args.plain:
        check_terminal()
        check_devices(args.device)
    path = file if file.suffix.lower() == ".toml" else Path(args.routine or file.with_suffix(".toml"))
    hints = (args.tempo, args.meter, args.one, args.taps, args.known)
    if path.exists() and any(hint is not None for hint in hints):
        raise CoachError("counts.hints_for_new_music", where=str(path))
    with Progress("hearing the music") as progress:
        if path.exists() or path == file:
            opened = coach.open_routine(path, warn=warn, progress=progress)
        else:
            opened = coach.begin_routine(
                path,
                file,
                tempo_bpm=args.tempo,
                meter=args.meter,
                one_at=args.one,
                taps=args.taps,
                known=args.known,
                warn=warn,
                progress=progress,
            )
    if args.plain:
        print(sheet_lines(coach.sheet_of(opened)))
        for doubt in opened.heard.beats.doubtful:
            place = opened.counts.place(float(opened.counts.counts_at(doubt.time)))
            why = say_reason(doubt.reason)
            print(
                tr(
                    "Doubtful: eight {eight} count {count:g}, {time:.2f} s: {why}"
                    if doubt.end is None
                    else "Doubtful: eight {eight} count {count:g}, {time:.2f} to {end:.2f} s: {why}",
                    eight=place.eight,
                    count=place.count,
                    time=doubt.time,
                    end=doubt.end,
                    why=why,
                )
            )
        return 0
    run_counts(coach.tell_rescued(opened), is_new=not path.exists(), device=args.device)
    return 0
