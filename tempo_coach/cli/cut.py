"""``tempo-coach cut``: a piece of music cut to a routine's length, on its counts."""

from __future__ import annotations

from typing import TYPE_CHECKING

from tempo_coach.cli.options import add_force, add_json, examples, refuse_unused
from tempo_coach.languages import tr

if TYPE_CHECKING:
    import argparse
    from pathlib import Path

    from tempo_coach.coach import CutWishes

_SHAPING = "ending fade silence tone loudness kind"


def add(parser: argparse.ArgumentParser) -> None:
    """Add what the command reads."""
    parser.description = tr(
        "Cut a piece of music to what a routine needs: pieces from count to count, joined on their attacks, with "
        "its own last accent or a fade. The whole music stays as it is; the routine keeps what was cut, with "
        "counts and all that is laid moved along. Without --out it is only told how long it would be and how it "
        "would join."
    )
    parser.epilog = examples(
        "tempo-coach cut music.mp3 --keep 1-5 9-12 --out short.wav",
        "tempo-coach cut short.toml --out short.mp3",
    )
    parser.add_argument(
        "music",
        metavar="MUSIC",
        help="a sound file, or a routine, whose counts are put right; one that was cut is cut anew from the whole",
    )
    parser.add_argument(
        "--keep",
        nargs="+",
        metavar="FROM-TO",
        help="what is heard, in this order: eights (3-10), counts in them (3:5-10:4), seconds (12.5s-60s), or up to "
        "the end (17-end); without it a routine that was cut is made again",
    )
    parser.add_argument(
        "--ending",
        choices=("accent", "fade", "plain"),
        default="accent",
        help="end on the last accent of the whole music, fade out, or stop where the last piece does (default accent)",
    )
    parser.add_argument("--fade", type=float, metavar="S", help="seconds over which it fades out (default 3)")
    parser.add_argument(
        "--silence", type=float, default=0.0, metavar="S", help="seconds of silence before the music (default 0)"
    )
    parser.add_argument("--tone", action="store_true", help="a tone before that silence")
    parser.add_argument(
        "--loudness",
        metavar="LUFS",
        default="-16",
        help="how loud the whole is made, measured as EBU R 128 has it; its peaks stay below -1 dB in any case; off "
        "leaves it as it is (default -16)",
    )
    parser.add_argument(
        "--kind",
        choices=("alone", "group"),
        help="whose length it is held against (default: what the routine says)",
    )
    parser.add_argument("--code", metavar="NAME", help="table of rules for that, or a file (default: until_2024)")
    parser.add_argument(
        "--out", metavar="FILE", help="write the music here: .wav, .flac, .ogg, .mp3 or .m4a (default: it is only told)"
    )
    parser.add_argument(
        "--routine",
        metavar="FILE.toml",
        help="write the routine here, with what was cut and its counts (default: beside --out; a routine that was cut "
        "already: itself)",
    )
    parser.add_argument("--title", metavar="TEXT", help="what players show (default: the routine's title)")
    add_json(parser)
    add_force(parser)
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Run the command."""
    from pathlib import Path

    from tempo_coach import coach
    from tempo_coach.cli.output import Progress, check_outputs, print_json, warn
    from tempo_coach.coach.files import find_format, write_sound
    from tempo_coach.coach.rules import DEFAULT_CODE, read_code, rules_of_length
    from tempo_coach.report.words.cut import cut_to_dict, format_cut

    refuse_unused(args, "routine title", "without --out", unless=args.out)
    refuse_unused(args, "fade", "without --ending fade", unless=args.ending == "fade")
    wishes = _read_wishes(args)
    code = read_code(args.code or DEFAULT_CODE)
    if args.out:
        find_format(args.out)
    check_outputs(args, "out", "routine")
    again = not wishes.keep and not args.given.intersection(_SHAPING.split())
    if again and args.out and coach.is_routine(args.music):
        with Progress("cutting the music") as progress:
            sound, routine = coach.make_again(args.music, warn=warn, progress=progress)
            write_sound(args.out, sound, overwrite=args.force, title=args.title or routine.title)
        print(f"{routine.title}: made again -> {args.out}")
        return 0
    path = _find_routine(args, Path(args.music))
    with Progress("hearing the music") as progress:
        beside = path.parent if path is not None else Path()
        made = coach.cut_music(args.music, wishes, beside=beside, warn=warn, progress=progress)
    kind = args.kind or made.routine.kind
    if args.out and path is not None:
        with Progress("writing the music"):
            write_sound(args.out, made.sound, overwrite=args.force, title=args.title or made.routine.title)
        coach.save_cut(made, path, Path(args.out), kind=kind, force=args.force)
    rules = rules_of_length(code, kind)
    for note in made.said:
        warn(note)
    if args.json:
        print_json(cut_to_dict(made, rules))
    else:
        print(format_cut(made, rules, kind, written=None if path is None else (args.out, path)))
    return 0


def _read_wishes(args: argparse.Namespace) -> CutWishes:
    from tempo_coach import coach
    from tempo_coach.errors import WrongUsage

    numbers = {"fade": (args.fade, 0.05, 30.0), "silence": (args.silence, 0.0, 60.0)}
    for name, (found, least, most) in numbers.items():
        if found is not None and not least <= found <= most:
            raise WrongUsage("option.out_of_range", where=f"--{name}", low=least, high=most, found=found)
    loudness: float | None = None
    if args.loudness != "off":
        try:
            loudness = float(args.loudness)
        except ValueError:
            loudness = 1.0
        if not -70 <= loudness <= -5:
            raise WrongUsage("cut.loudness", where="--loudness", found=args.loudness)
    return coach.CutWishes(
        keep=tuple(args.keep or ()),
        ending=args.ending,
        fade=coach.FADE_S if args.fade is None else args.fade,
        silence=args.silence,
        tone=args.tone,
        loudness_lufs=loudness,
    )


def _find_routine(args: argparse.Namespace, music: Path) -> Path | None:
    """Return where the routine is written, refusing another one that is there."""
    from pathlib import Path

    from tempo_coach import coach
    from tempo_coach.resources import refuse_existing

    if not args.out:
        return None
    if args.routine is None and coach.was_cut(music):
        return music
    path = Path(args.routine or Path(args.out).with_suffix(".toml"))
    refuse_existing(path, force=args.force)
    return path
