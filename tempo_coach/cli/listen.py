"""``tempo-coach listen``: music to beats, counts and eights."""

from __future__ import annotations

from typing import TYPE_CHECKING

from tempo_coach.cli.options import add_force, add_hints, add_json, check_hints, examples
from tempo_coach.languages import tr

if TYPE_CHECKING:
    import argparse


def add(parser: argparse.ArgumentParser) -> None:
    """Add what the command reads."""
    parser.description = tr(
        "Find the beats, counts of eight and tempo of a piece of music, and say where to look twice."
    )
    parser.epilog = examples(
        "tempo-coach listen music.mp3 --beats beats.txt",
        "tempo-coach listen music.mp3 --map",
        "tempo-coach listen music.mp3 --from 10 --to 60 --cut part.wav",
    )
    parser.add_argument("music", metavar="MUSIC", help="a sound file: wav, flac, ogg, opus or mp3")
    add_hints(parser)
    parser.add_argument(
        "--beats",
        metavar="OUT.txt",
        help="write the beats as a text: seconds, then the place in the bar, a line a beat",
    )
    parser.add_argument(
        "--midi",
        metavar="OUT.mid",
        help="write the beats as a MIDI file for a music program: its tempo, and a click a beat",
    )
    parser.add_argument(
        "--map",
        action="store_true",
        help="show by eights how loud and how dense it is, its sections, accents and changes of character",
    )
    group = parser.add_argument_group("a part of a long recording; all times then count from its beginning")
    group.add_argument("--from", dest="start", type=float, metavar="S", help="leave out what comes before this second")
    group.add_argument("--to", dest="end", type=float, metavar="S", help="leave out what comes after this second")
    group.add_argument(
        "--cut",
        metavar="OUT.wav",
        help="write the part as a sound file of its own, for every other command: .wav, .flac, .ogg, .mp3 or .m4a",
    )
    add_json(parser)
    add_force(parser)
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Run the command."""
    import math

    from tempo_coach.cli.output import Progress, check_outputs, print_json, warn, write_bytes
    from tempo_coach.coach import hear
    from tempo_coach.coach.files import find_format, read_sound, write_sound
    from tempo_coach.coach.hearing import map_heard, write_beats, write_midi
    from tempo_coach.errors import WrongUsage
    from tempo_coach.report.words.heard_music import format_heard, heard_to_dict

    check_hints(args)
    start, end = args.start, args.end
    if not 0 <= (start or 0) < (math.inf if end is None else end):
        told = (
            tr("{start:g} to its end s", start=start or 0)
            if end is None
            else tr("{start:g} to {end:g} s", start=start or 0, end=end)
        )
        raise WrongUsage("listen.part_backwards", where="--from", found=told)
    check_outputs(args, "beats", "midi", "cut")
    if args.cut:
        find_format(args.cut)
        with Progress("reading the sound") as progress:
            part = read_sound(args.music, start=start, end=end, warn=warn, progress=progress)
            write_sound(args.cut, part, overwrite=args.force)
    with Progress("hearing the music") as progress:
        heard = hear(
            args.music,
            tempo_bpm=args.tempo,
            meter=args.meter,
            one_at=args.one,
            start=start,
            end=end,
            taps=args.taps,
            known=args.known,
            warn=warn,
            progress=progress,
        )
    if args.beats:
        write_bytes(args.beats, write_beats(heard).encode(), force=args.force)
    if args.midi:
        write_bytes(args.midi, write_midi(heard), force=args.force)
    rows = None
    if args.map:
        with Progress("mapping the music") as progress:
            rows = map_heard(heard, progress=progress)
    if args.json:
        print_json(heard_to_dict(heard, rows=rows))
    else:
        print(format_heard(heard, rows=rows))
    return 0
