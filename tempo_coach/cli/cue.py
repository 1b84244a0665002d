"""``tempo-coach cue``: a drill as a sound file, and its plan."""

from __future__ import annotations

from typing import TYPE_CHECKING

from tempo_coach.cli.options import (
    add_force,
    add_json,
    add_passage,
    examples,
    read_request,
    refuse_for_routine,
    refuse_unused,
)
from tempo_coach.languages import tr

if TYPE_CHECKING:
    import argparse

    from tempo_coach.cli.output import Progress
    from tempo_coach.coach import Heard
    from tempo_coach.coach.files import Plan


def add(parser: argparse.ArgumentParser) -> None:
    """Add what the command reads."""
    parser.description = tr(
        "Write the cues of a drill, alone or in music, or those of a whole routine in its own music, to a sound "
        "file for the gym; and the plan of it, which score needs later."
    )
    parser.epilog = examples(
        "tempo-coach cue clubs_mills --tempo 100 --cycles 8 --out mills.wav --plan mills.json",
        "tempo-coach cue rope_figure_eight --music music.mp3 --from-eight 3 --eights 4 --out cues.wav",
    )
    parser.add_argument("drill", metavar="DRILL", help="name or file of a drill, or a routine's file")
    add_passage(parser)
    parser.add_argument(
        "--out",
        metavar="FILE",
        help="write the sound here: .wav, .flac, .ogg, .mp3 or .m4a (default: nothing is written)",
    )
    parser.add_argument("--rate", type=int, metavar="HZ", help="samples a second (default: the music's, or 48000)")
    parser.add_argument(
        "--plan", metavar="PLAN.json", help="write the plan: what is to be done when, for score, film and group"
    )
    add_json(parser)
    add_force(parser)
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Run the command."""
    import json

    from tempo_coach import coach
    from tempo_coach.cli.output import Progress, check_outputs, print_json, write_text
    from tempo_coach.coach.files import find_format, plan_to_dict, write_sound
    from tempo_coach.errors import CoachError
    from tempo_coach.report.words.amounts import join_words, several

    if not (args.out or args.plan or args.json):
        raise CoachError("cue.nothing_to_write", where="cue")
    refuse_unused(args, "rate", "without --out", unless=args.out)
    check_outputs(args, "out", "plan")
    if args.out:
        find_format(args.out)
    with Progress("hearing the music") as progress:
        plan, heard = _lay(args, progress)
    check_outputs(args, "out", "plan")  # a routine may have named more files to read
    values = plan_to_dict(plan)
    if args.out:
        with Progress("mixing the cues") as progress:
            progress(0.0)
            sound = coach.cue_sound(
                plan,
                music=heard.sound if heard else None,
                rate_hz=args.rate,
                voice=args.voice,
                progress=lambda share: progress(share / 2),
            )
            progress(0.5)
            write_sound(args.out, sound, overwrite=args.force)
    if args.plan:
        write_text(args.plan, json.dumps(values, indent=1, allow_nan=False) + "\n", force=args.force)
    if args.json:
        print_json(values)
    else:
        written = join_words(filter(None, (args.out, args.plan)), "{first} and {second}")
        seconds = tr("{seconds:.1f} s", seconds=plan.duration)
        length = f"{several(plan.cycles, 'cycle')}, {several(len(plan.moments), 'moment')}, {seconds}"
        print(f"{tr('{name}: {said}', name=tr(plan.title), said=length)} -> {written}")
    return 0


def _lay(args: argparse.Namespace, progress: Progress) -> tuple[Plan, Heard | None]:
    """The plan of a drill or of a routine, and its music where there is any."""
    from tempo_coach import coach
    from tempo_coach.cli.output import warn

    if coach.is_routine(args.drill):
        refuse_for_routine(args, "music", "tempo", "cycles", "mirrored", "hand")
        request = read_request(args, args.drill)
        coach.check_request(request)
        coach.check_laid_on(args.drill, request.from_eight, request.last_eight)
        opened = coach.open_routine(args.drill, warn=warn, progress=progress)
        heard = coach.counts_of(opened, warn=warn)
        return coach.lay_routine(opened, request), heard
    request = read_request(args, args.drill)
    if request.music is None:
        return coach.lay(request), None
    heard = coach.hear_request(request, warn=warn, progress=progress)
    return coach.lay(request, heard=heard), heard
