"""Options that several commands share, and how they are read."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from tempo_coach.languages import tr

if TYPE_CHECKING:
    import argparse

    from tempo_coach.coach import Request


#: Largest numbers that are read, whole and others: beyond them nothing is counted or measured here, and
#: libraries begin to fail.
MOST_WHOLE, MOST = 10**9, 1e12

#: Options of :func:`add_passage`, and of ``trace.add_reading``, as they are called when they have been read.
PASSAGE = "tempo music from_eight to_eight eights cycles speed lead_in cues every_count mirrored hand voice"
READING = "point columns time_column rate unit period start end"
#: Options that are called otherwise there.
_NAMED = {"start": "from", "end": "to"}
#: So many letters of what was given are told again.
LONGEST = 40
#: What an example in a help begins with.
EXAMPLE = "Example: "


def examples(*commands: str) -> str:
    """Return the end of a help text: commands that run as they are, a line each."""
    return "\n".join(f"{EXAMPLE}{command}" for command in commands)


def read_number(text: str) -> float:
    """Return the number of an option, which is finite.

    Raises
    ------
    argparse.ArgumentTypeError
        If it is none.
    """
    from argparse import ArgumentTypeError

    try:
        number = float(text)
    except ValueError:
        number = math.nan
    if not abs(number) <= MOST:
        raise ArgumentTypeError(tr("expected a number, got {quoted}", quoted=quoted(text)))
    return number


def read_whole(text: str) -> int:
    """Return the whole number of an option.

    Raises
    ------
    argparse.ArgumentTypeError
        If it is none, or has more digits than anything here could have.
    """
    from argparse import ArgumentTypeError

    try:
        number = int(text)
    except ValueError:  # also where it has thousands of digits
        number = None
    if number is None or abs(number) > MOST_WHOLE:
        raise ArgumentTypeError(
            tr(
                "expected a whole number, got {quoted}"
                if number is None
                else "expected a whole number of at most {most_whole}, got {quoted}",
                quoted=quoted(text),
                most_whole=MOST_WHOLE,
            )
        )
    return number


def quoted(text: str) -> str:
    """Return a given value in quotes, truncated if long."""
    return repr(text if len(text) <= LONGEST else f"{text[:LONGEST]}…")


def add_passage(parser: argparse.ArgumentParser) -> None:
    """Add the options of ``cue``: tempo or music, which part of it, how fast, with which cues."""
    group = parser.add_argument_group("what to practise on")
    group.add_argument(
        "--tempo", type=float, metavar="BPM", help="beats a minute; with --music about how fast it is counted"
    )
    group.add_argument(
        "--music",
        metavar="FILE",
        help="practise in this music: a sound file, or a routine, which has its counts put right",
    )
    group.add_argument("--from-eight", type=int, metavar="N", help="the eight of the music to begin with (default 1)")
    group.add_argument(
        "--eights",
        type=int,
        metavar="N",
        help="how many eights (default: as many as --cycles needs; in music all that follow)",
    )
    group.add_argument("--to-eight", type=int, metavar="N", help="the last of them, in the place of --eights")
    group.add_argument(
        "--cycles",
        type=int,
        metavar="N",
        help="how many cycles of the drill (default: as many as fit into --eights, else as the drill says)",
    )
    group.add_argument(
        "--speed",
        type=float,
        default=1.0,
        metavar="SHARE",
        help="of the music's own speed, 0.5 to 1.2, its pitch kept (default 1)",
    )
    group.add_argument(
        "--lead-in",
        type=int,
        metavar="N",
        help="counts to be heard before the first cycle (default: as the drill says)",
    )
    group.add_argument(
        "--cues",
        choices=("all", "alternate", "ones", "none", "thinning"),
        help="all: on every moment; alternate: in every other cycle; ones: on the first moment of each cycle; none; "
        "thinning: one of these after the other (default: as the drill says)",
    )
    group.add_argument(
        "--every-count", action="store_true", help="every count clicks besides, also where nothing is laid"
    )
    group.add_argument("--mirrored", action="store_true", help="left and right change places")
    group.add_argument("--hand", metavar="HAND", help="only this hand of the drill, for example left (default: all)")
    group.add_argument(
        "--voice",
        nargs="?",
        const="",
        metavar="NAME",
        help="counts are spoken, not clicked: in the language of the screen, in the one named (de, en, es, fr, it), or "
        "by the recordings in a folder of your own",
    )


def read_request(args: argparse.Namespace, drill: str) -> Request:
    """Return what the options of :func:`add_passage` ask for.

    Raises
    ------
    CoachError
        If the last eight comes before the first one, or is given besides how many there are.
    """
    from tempo_coach.coach import Request
    from tempo_coach.errors import CoachError

    refuse_unused(args, "eights", "with --to-eight: it says how many", unless=args.to_eight is None)
    eights, first = args.eights, 1 if args.from_eight is None else args.from_eight
    if args.to_eight is not None:
        if args.to_eight < first:
            raise CoachError("passage.backwards", where="--to-eight", first=first, last=args.to_eight)
        eights = args.to_eight - first + 1
    return Request(
        drill=drill,
        music=args.music,
        tempo_bpm=args.tempo,
        from_eight=first,
        eights=eights,
        cycles=args.cycles,
        speed=args.speed,
        lead_in_counts=args.lead_in,
        cues=args.cues,
        mirrored=args.mirrored,
        hand=args.hand,
        spoken=args.voice is not None,
        every_count=args.every_count,
    )


def refuse_unused(args: argparse.Namespace, names: str, why: str, *, unless: bool = False) -> None:
    """Refuse options that would be ignored.

    Parameters
    ----------
    names : str
        As they are called in ``args``, with spaces between.
    why : str
        When there is no use for them: ``"without --keep"``.
    unless : bool
        Whether there is.

    Raises
    ------
    WrongUsage
        With the first one that was given.
    """
    from tempo_coach.errors import WrongUsage

    for name in () if unless else names.split():
        if name in args.given:
            option = _NAMED.get(name, name.replace("_", "-"))
            raise WrongUsage("option.unused", where=f"--{option}", why=tr(why))


def refuse_for_routine(args: argparse.Namespace, *names: str) -> None:
    """Refuse options of :func:`add_passage` that a routine determines.

    Raises
    ------
    CoachError
        With the first one that was given.
    """
    from tempo_coach.errors import CoachError

    for name in names:
        given = getattr(args, name)
        if given is not None and given is not False:  # 0 was given too
            option = f"--{name.replace('_', '-')}"
            raise CoachError("option.decided_by_routine", where=option)


def add_hints(parser: argparse.ArgumentParser) -> None:
    """Add the options for what is known of a piece of music before it is heard."""
    parser.add_argument(
        "--tempo", type=float, metavar="BPM", help="about how fast it is counted, in beats a minute (default: found)"
    )
    parser.add_argument("--meter", type=int, choices=(3, 4), help="beats in a bar: 3 or 4 (default: found)")
    parser.add_argument("--one", type=float, metavar="S", help="seconds of the music at which a count 1 is known to be")
    given = parser.add_mutually_exclusive_group()
    given.add_argument(
        "--taps",
        metavar="FILE",
        help="times in s of somebody tapping along, a line each: they steer, the music puts them right",
    )
    given.add_argument(
        "--known", metavar="FILE", help="beats that are taken as they stand: a text, a time in s a line, or a MIDI file"
    )


def check_hints(args: argparse.Namespace) -> None:
    """Refuse a hint of :func:`add_hints` that another one makes meaningless.

    Raises
    ------
    WrongUsage
        If there is one.
    """
    refuse_unused(args, "tempo", "with --known: its beats are taken as they stand", unless=not args.known)


def check_devices(loudspeaker: str | None, microphone: str | None = None, *, option: str = "--record") -> None:
    """Refuse a missing loudspeaker or microphone before anything else is done.

    Parameters
    ----------
    loudspeaker, microphone : str or None
        As ``--device`` and the option for the microphone were given.
    option : str
        What that is called.

    Raises
    ------
    CoachError
        If a name is that of no device, or of several.
    """
    from tempo_coach.coach.machine import check_device
    from tempo_coach.coach.practising.start import NO_SOUND

    if loudspeaker not in (None, NO_SOUND):
        check_device(loudspeaker, "outputs", where="--device")
    if microphone:
        check_device(microphone, "inputs", where=option)


def add_json(parser: argparse.ArgumentParser) -> None:
    """Add ``--json``."""
    parser.add_argument(
        "--json", action="store_true", help="print every number for another program to read, instead of words"
    )


def add_force(parser: argparse.ArgumentParser) -> None:
    """Add ``--force``."""
    parser.add_argument(
        "--force", action="store_true", help="replace files that are there already (default: they are left alone)"
    )
