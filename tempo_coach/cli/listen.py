"""``tempo-coach listen``: music to beats, counts and eights."""

from __future__ import annotations

from typing import TYPE_CHECKING

from tempo_coach.cli.options import add_force, add_hints, add_json, check_hints, examples
from tempo_coach.languages import tr

if TYPE_CHECKING:
    import argparse

    from tempo_coach.coach import Heard


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
    from tempo_coach.errors import WrongUsage
    from tempo_coach.music.beats.beat_files import beats_to_text
    from tempo_coach.music.beats.midi import beats_to_midi
    from tempo_coach.music.counts.music_map import MapRow, map_music
    from tempo_coach.music.files.sound_file import find_format, read_sound, write_sound
    from tempo_coach.report.words.music_map import map_values, say_map

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
    times, bar = heard.beats.times, heard.beats.bar
    if args.beats:
        write_bytes(args.beats, beats_to_text(times, bar).encode(), force=args.force)
    if args.midi:
        write_bytes(args.midi, beats_to_midi(times, bar), force=args.force)
    rows: tuple[MapRow, ...] = ()
    if args.map:
        with Progress("mapping the music") as progress:
            rows = map_music(heard.sound, heard.counts, progress=progress)
    if args.json:
        print_json(to_values(heard) | ({"map": map_values(rows, heard.counts)} if args.map else {}))
    else:
        print("\n".join([describe(heard), *(say_map(rows, heard.counts) if args.map else ())]))
    return 0


def to_values(heard: Heard) -> dict[str, object]:
    """Return what was heard as plain values."""
    from tempo_coach.report.words.reasons import say_reason

    counts = heard.counts
    beats = heard.beats
    first = counts.eights[0][0]
    return {
        "file": heard.path,
        "duration": heard.duration,
        "tempo_bpm": beats.tempo_bpm,
        "beats": beats.times.tolist(),
        "bar": beats.bar.tolist(),
        "counts": [round(counts.place(k - first).count) for k in range(beats.times.size)],
        "eights": [list(eight) for eight in counts.eights],
        "confidence": beats.confidence.tolist(),
        "doubtful": [
            {"time": each.time, "end": each.end, "reason": say_reason(each.reason)} for each in beats.doubtful
        ],
    }


def describe(heard: Heard) -> str:
    """Return what was heard in words."""
    from tempo_coach.report.words.amounts import join_words, say_clock
    from tempo_coach.report.words.reasons import say_reason

    beats, counts = heard.beats, heard.counts
    lengths = sorted({length for _, length in counts.eights})
    unit = (
        tr("eights")
        if lengths == [8]
        else tr("rows of {names}", names=join_words(map(str, lengths), "{first} and {second}"))
    )
    lines = [
        tr("{path}: {clock} of music", path=heard.path, clock=say_clock(heard.duration)),
        tr("  tempo          {tempo_bpm:.1f} beats a minute", tempo_bpm=beats.tempo_bpm),
        tr("  beats          {size}, the first at {time:.2f} s", size=beats.times.size, time=beats.times[0]),
        tr(
            "  {unit:<14} {number}, the first count 1 at {seconds_at:.2f} s",
            unit=unit,
            number=len(counts.eights),
            seconds_at=float(counts.seconds_at(0)),
        ),
        tr("  pauses         {number}", number=len(counts.pauses) or tr("none"))
        + "".join(
            "\n    " + tr("{clock} to {clock_2}", clock=say_clock(start), clock_2=say_clock(end))
            for start, end in counts.pauses
        ),
        tr("  doubtful       {number}", number=len(beats.doubtful) or tr("none")),
    ]
    for doubt in beats.doubtful:
        place = counts.place(float(counts.counts_at(doubt.time)))
        when = say_clock(doubt.time)
        if doubt.end is not None:
            when = tr("{clock} to {clock_2}", clock=when, clock_2=say_clock(doubt.end))
        where = tr("{clock}  eight {eight} count {count}", clock=when, eight=place.eight, count=int(place.count))
        lines.append(f"    {tr('{name}: {said}', name=where, said=say_reason(doubt.reason))}")
    return "\n".join(lines)
