"""``tempo-coach practise``: a drill on the screen, with cues that are heard and taps that are stamped."""

from __future__ import annotations

from typing import TYPE_CHECKING

from tempo_coach.cli.options import (
    add_passage,
    check_devices,
    examples,
    read_request,
    refuse_for_routine,
    refuse_unused,
)
from tempo_coach.languages import tr
from tempo_coach.observe.observers import NOBODY, SOUNDS
from tempo_coach.report.words.observers import say_live

if TYPE_CHECKING:
    import argparse

    from tempo_coach.coach import Heard, OpenRoutine, Request
    from tempo_coach.coach.practising.sources import LiveSource
    from tempo_coach.observe.observers import ObservedBy


def add(parser: argparse.ArgumentParser) -> None:
    """Add what the command reads."""
    parser.description = tr(
        "Practise a drill, or run through a routine: hear the cues, see the count, what is to be done now and "
        "next, tap each hand's circles, and get the scorecard."
    )
    parser.epilog = examples(
        "tempo-coach practise clubs_mills --tempo 96 --ready 10",
        "tempo-coach practise rope_figure_eight --tempo 100 --watch --athlete Ada",
        "tempo-coach practise routine.toml --from-eight 5 --to-eight 8 --loop",
    )
    parser.add_argument(
        "drill", metavar="DRILL", help="name or file of a drill, or a routine's file: all that is laid on its eights"
    )
    add_passage(parser)
    group = parser.add_argument_group("how it goes")
    group.add_argument(
        "--ready", type=float, default=0.0, metavar="S", help="seconds to walk in before the lead-in (default 0)"
    )
    group.add_argument(
        "--again", type=int, default=1, metavar="N", help="so many takes follow each other by themselves (default 1)"
    )
    group.add_argument(
        "--rest", type=float, default=20.0, metavar="S", help="seconds of rest between them (default 20)"
    )
    group.add_argument(
        "--steps",
        action="store_true",
        help="the tempo goes up after good takes and down after one that was not (default: it stays)",
    )
    group.add_argument(
        "--keys",
        default="",
        metavar="XY",
        help="one key for each hand, the first hand's first, such as jf (default: they are asked for)",
    )
    group.add_argument("--on-clap", action="store_true", help="begin when the microphone hears a clap")
    group.add_argument("--now", action="store_true", help="start at once, without asking")
    group.add_argument("--coach", action="store_true", help="her coach taps, who watches (default: she taps herself)")
    group.add_argument("--watch", action="store_true", help="nobody taps: a film or a sensor observes")
    group.add_argument(
        "--nobody",
        action="store_true",
        help="nobody and nothing observes: it just plays, and nothing is judged or kept",
    )
    group.add_argument("--loop", action="store_true", help="begin again at the end, until Enter; nobody observes")
    group.add_argument(
        "--device", metavar="NAME", help="play through this loudspeaker: part of its name; none: without sound"
    )
    group.add_argument(
        "--record",
        nargs="?",
        const="",
        metavar="MICROPHONE",
        help="write what the microphone, or this one, hears into a sound file beside each take, for score --sound",
    )
    group.add_argument(
        "--kind",
        choices=tuple(SOUNDS),
        help=tr("nobody taps: the microphone hears {live}", live=say_live()),
    )
    group.add_argument(
        "--phones",
        action="store_true",
        help="phones observe, show the count or are the remote: a server for them runs as long as the practice does, "
        "and each is let in here; needs the extra phones",
    )
    group.add_argument(
        "--address",
        metavar="A[:PORT]",
        help="the one address of this computer that phones reach (default: the first that doctor lists; port 8765)",
    )
    group.add_argument(
        "--osc",
        metavar="[A:]PORT",
        help="a sensor or pad that sends Open Sound Control observes: listen at this port of 127.0.0.1, or of an "
        "address of this computer, as long as the practice lasts; needs the extra osc",
    )
    group.add_argument(
        "--lines",
        metavar="FILE",
        help="any program, or a board on a serial cable, that prints lines observes: TIME,HAND for each onset; a pipe, "
        "a device, or - for standard input",
    )
    group.add_argument(
        "--midi",
        metavar="PORT",
        help="pads or pedals that send MIDI observe: part of the port's name; the first pad that is hit is the first "
        "hand's, the second the second's; needs the extra midi",
    )
    group.add_argument(
        "--lsl",
        metavar="NAME",
        help="a stream of Lab Streaming Layer in this network observes: strings name hands, six numbers for each hand "
        "are a reading; needs the extra lsl",
    )
    group.add_argument("--athlete", metavar="NAME", help="in whose name it is kept in the history (default: me)")
    group.add_argument("--take", metavar="FILE", help="where to write the take (default: the folder of all takes)")
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Run the command."""
    import shlex
    from pathlib import Path

    from tempo_coach import coach
    from tempo_coach.cli.output import warn
    from tempo_coach.coach.looking_back import SOMEBODY, read_name
    from tempo_coach.coach.practising.sources import open_phones
    from tempo_coach.coach.practising.start import Way, find_unfinished, prepare_practice, takes_folder
    from tempo_coach.ui.terminal import run_screens

    _check(args)
    athlete = SOMEBODY if args.athlete is None else read_name(args.athlete)
    request, heard, opened = _read_routine(args) if coach.is_routine(args.drill) else _read_drill(args)
    drill = None if opened else coach.load_drill(request.drill, mirrored=request.mirrored, hand=request.hand)
    hands = drill.pattern.hand_names if drill else coach.hands_of(args.drill)
    source = open_phones(args.address) if args.phones else _open_source(args, hands)
    context = prepare_practice(
        request,
        heard=heard,
        way=Way(
            ready=args.ready,
            takes=args.again,
            rest=args.rest,
            steps=drill.practice.steps if drill and args.steps else None,
        ),
        observed_by=source.observed_by if source is not None else _observer(args),
        keys=args.keys,
        at_once=args.now,
        take_file=Path(args.take) if args.take else None,
        device=args.device,
        voice=args.voice,
        athlete=athlete,
        microphone="" if args.kind and args.record is None else args.record,
        kind=args.kind,
        on_clap=args.on_clap,
        source=source,
        opened=opened,
        loops=args.loop,
    )
    if args.plain:
        from tempo_coach.ui.practice.line_by_line import run_in_lines

        run_in_lines(context)
        return 0
    paths, unkept = run_screens(context, request=request, device=args.device, athlete=athlete)
    for path in () if _observer(args) == NOBODY else paths:
        print(path or tr("in memory alone"))
    if unkept:
        named = " ".join(shlex.quote(str(each)) for each in unkept)
        warn(
            tr(
                "not in the history; later: tempo-coach history --athlete {quote} --take-in {named}",
                quote=shlex.quote(athlete),
                named=named,
            )
        )
    unfinished = find_unfinished(takes_folder())
    if unfinished:
        warn(
            tr(
                "a take was broken off: {unfinished}. See it with tempo-coach score --take FILE, or in tempo-coach.",
                unfinished=unfinished[0],
            )
        )
    return 0


def _open_source(args: argparse.Namespace, hands: tuple[str, ...]) -> LiveSource | None:
    """Return the live source of the given option, opened."""
    from tempo_coach.coach.practising.sources import OPENERS

    given = next((name for name in OPENERS if getattr(args, name)), None)
    return None if given is None else OPENERS[given](getattr(args, given), hands)


def _observer(args: argparse.Namespace) -> ObservedBy:
    if args.nobody or args.loop:
        return NOBODY
    if args.watch:
        return "film"
    if args.kind:
        kind: ObservedBy = args.kind
        return kind
    return "coach's tap" if args.coach else "tap"


def _read_drill(args: argparse.Namespace) -> tuple[Request, Heard | None, None]:
    """Return the request of the options, and the music heard."""
    from tempo_coach import coach
    from tempo_coach.cli.output import Progress, warn
    from tempo_coach.ui.terminal import check_terminal

    request = read_request(args, args.drill)
    drill = coach.load_drill(args.drill, mirrored=args.mirrored, hand=args.hand)
    _check_keys(args.keys, drill.pattern.hand_names)
    check_terminal(lines_as_input=args.lines == "-")
    if request.music is None:
        return request, None, None
    with Progress("hearing the music") as progress:
        return request, coach.hear_request(request, warn=warn, progress=progress), None


def _read_routine(args: argparse.Namespace) -> tuple[Request, Heard, OpenRoutine]:
    """Return the eights to run through, and the routine with its music heard."""
    from dataclasses import replace

    from tempo_coach import coach
    from tempo_coach.cli.output import Progress, warn
    from tempo_coach.report.words.practising import AS_LAID
    from tempo_coach.ui.terminal import check_terminal

    refuse_for_routine(args, "music", "tempo", "cycles", "mirrored", "hand", "steps")
    request = replace(read_request(args, AS_LAID), music=args.drill)
    coach.check_request(request)
    coach.check_laid_on(args.drill, request.from_eight, request.last_eight)
    _check_keys(args.keys, coach.hands_of(args.drill))
    check_terminal(lines_as_input=args.lines == "-")
    with Progress("hearing the music") as progress:
        opened = coach.open_routine(args.drill, warn=warn, progress=progress)
    return request, coach.counts_of(opened, warn=warn), opened


def _check(args: argparse.Namespace) -> None:
    from tempo_coach.errors import CoachError

    unobserved = args.nobody or args.loop
    option = "--loop" if args.loop else "--nobody"
    refuse_unused(
        args,
        "coach keys watch kind phones osc lines midi lsl record steps take athlete",
        tr("with {option}: nobody observes", option=option),
        unless=not unobserved,
    )
    refuse_unused(args, "again", "with --loop: it begins again at its end", unless=not args.loop)
    refuse_unused(args, "coach kind", "with --watch: a film or a sensor observes", unless=not args.watch)
    refuse_unused(args, "coach", "with --kind: the microphone observes", unless=not args.kind)
    refuse_unused(args, "keys", "where nobody taps", unless=not (args.watch or args.kind))
    refuse_unused(args, "coach keys kind watch plain now", "with --phones", unless=not args.phones)
    others = "coach keys kind watch phones"
    for name in ("osc", "lines", "midi", "lsl"):
        refuse_unused(args, others, tr("with --{name}", name=name), unless=not getattr(args, name))
        others += f" {name}"
    refuse_unused(args, "address", "without --phones", unless=args.phones)
    refuse_unused(args, "now", "with --on-clap", unless=not args.on_clap)
    for value, low, high, option in (
        (args.ready, 0, 600, "--ready"),
        (args.rest, 1, 3600, "--rest"),
        (args.again, 1, 100, "--again"),
    ):
        if not low <= value <= high:
            raise CoachError("practise.out_of_range", where=option, low=low, high=high, value=value)
    refuse_unused(args, "rest", "without --again", unless=args.again > 1)
    check_devices(args.device, args.record)


def _check_keys(keys: str, hands: tuple[str, ...]) -> str:
    from tempo_coach.errors import CoachError
    from tempo_coach.report.words.amounts import join_words

    if len(keys) > len(hands) or len(set(keys.lower())) < len(keys) or not keys.isprintable():
        names = join_words(map(tr, hands), "{first} and {second}")
        raise CoachError("practise.keys", where="--keys", names=names, keys=keys)
    return keys
