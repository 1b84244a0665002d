"""``tempo-coach countfilm``: the music of a routine as a film with the big count, to play on a phone or in a hall."""

from __future__ import annotations

from typing import TYPE_CHECKING

from tempo_coach.cli.options import add_force, examples

if TYPE_CHECKING:
    import argparse


def add(parser: argparse.ArgumentParser) -> None:
    """Add what the command reads."""
    parser.description = (
        "Write the music as a film for any phone, tablet or screen of a hall: the big count, the eight, what is laid "
        "now and what comes next, in the look of the practice screen. Needs the extra film."
    )
    parser.epilog = examples("tempo-coach countfilm routine.toml --out routine.mp4")
    parser.add_argument("music", metavar="MUSIC", help="a routine's file, or a sound file, which has counts alone")
    parser.add_argument("--out", metavar="FILE.mp4", required=True, help="write the film here: .mp4")
    parser.add_argument("--clicks", action="store_true", help="a click on every count besides")
    add_force(parser)
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Run the command."""
    from pathlib import Path

    from tempo_coach import coach
    from tempo_coach.cli.output import Progress, check_outputs, warn
    from tempo_coach.coach.count_film import follow_routine
    from tempo_coach.errors import CoachError
    from tempo_coach.live.mixing.clicks import mix_clicks
    from tempo_coach.music.files.container import load_decoder
    from tempo_coach.pattern.routine.routine import MusicFile, Routine
    from tempo_coach.report.drawings.moving import write_film
    from tempo_coach.report.words.amounts import say_clock
    from tempo_coach.resources import refuse_existing, written_whole
    from tempo_coach.ui.practice.count_picture import draw_step

    if Path(args.out).suffix.lower() != ".mp4":
        raise CoachError("countfilm.name_ends", where="--out", out=args.out)
    check_outputs(args, "out")
    load_decoder(args.out)
    path = Path(args.music)
    with Progress("hearing the music") as progress:
        if coach.is_routine(path) or path.suffix.lower() == ".toml":
            opened = coach.open_routine(path, warn=warn, progress=progress)
            heard, routine, beside = coach.counts_of(opened, warn=warn), opened.routine, path
        else:
            heard = coach.hear(path, warn=warn, progress=progress)
            routine, beside = Routine(path.stem.replace("_", " "), MusicFile(str(path))), None
    steps = follow_routine(routine, heard.counts, beside)
    sound = mix_clicks(heard.sound, heard.counts, 0.0, clicks=True) if args.clicks else heard.sound
    out = refuse_existing(args.out, force=args.force)
    with Progress("making the film") as progress, written_whole(out) as temporary:
        pictures = ((step.start, draw_step(step, title=routine.title)) for step in steps)
        write_film(temporary, pictures, sound, title=routine.title, where=str(out), progress=progress)
    print(f"{routine.title}: {say_clock(sound.duration)} -> {args.out}")
    return 0
