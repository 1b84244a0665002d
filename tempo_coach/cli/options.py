"""Options that several commands share, and how they are read."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import argparse

    from tempo_coach.coach import Request


def add_passage(parser: argparse.ArgumentParser) -> None:
    """Add what ``cue`` asks for: tempo or music, which part of it, how fast, with which cues."""
    group = parser.add_argument_group("what to practise on")
    group.add_argument("--tempo", type=float, metavar="BPM", help="beats a minute; with --music a hint")
    group.add_argument("--music", metavar="FILE", help="a sound file, or a routine, whose counts were put right")
    group.add_argument("--from-eight", type=int, metavar="N", help="the eight to begin with (default: the first)")
    group.add_argument("--eights", type=int, metavar="N", help="how many eights")
    group.add_argument("--cycles", type=int, metavar="N", help="how many cycles of the drill")
    group.add_argument(
        "--speed", type=float, default=1.0, metavar="S", help="0.5 to 1.2 of the music's own (default 1)"
    )
    group.add_argument("--lead-in", type=int, metavar="N", help="counts before the first cycle (default: the drill's)")
    group.add_argument(
        "--cues",
        choices=("all", "alternate", "ones", "none", "thinning"),
        help="a cue on every moment, in every other cycle, on the first of each cycle, none, or one after the other",
    )
    group.add_argument("--mirrored", action="store_true", help="left and right change places")
    group.add_argument("--hand", metavar="HAND", help="only this hand of the drill, for example left")
    group.add_argument(
        "--voice",
        nargs="?",
        const="en",
        metavar="NAME",
        help="counts are spoken: in English (en), in another language (de), or from a folder of your own recordings",
    )


def read_request(args: argparse.Namespace, drill: str) -> Request:
    """Return what the options of :func:`add_passage` ask for."""
    from tempo_coach.coach import Request

    return Request(
        drill=drill,
        music=args.music,
        tempo_bpm=args.tempo,
        from_eight=1 if args.from_eight is None else args.from_eight,
        eights=args.eights,
        cycles=args.cycles,
        speed=args.speed,
        lead_in_counts=args.lead_in,
        cues=args.cues,
        mirrored=args.mirrored,
        hand=args.hand,
        spoken=args.voice is not None,
    )


def refuse_for_routine(args: argparse.Namespace, *names: str) -> None:
    """Refuse options of :func:`add_passage` that a routine decides.

    Raises
    ------
    CoachError
        With the first one that was given.
    """
    from tempo_coach.errors import CoachError

    for name in names:
        if getattr(args, name) not in (None, False):
            option = f"--{name.replace('_', '-')}"
            raise CoachError("the routine decides this", where=option, hint="leave the option out, or name a drill")


def add_json(parser: argparse.ArgumentParser) -> None:
    """Add ``--json``."""
    parser.add_argument("--json", action="store_true", help="print values for programs instead of words")


def add_force(parser: argparse.ArgumentParser) -> None:
    """Add ``--force``."""
    parser.add_argument("--force", action="store_true", help="replace files that exist")
