"""``tempo-coach score``: what was done against a plan, and into the history."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from tempo_coach.cli.film import CARE, add_following
from tempo_coach.cli.many_files import add_many, run_many, take_one
from tempo_coach.cli.options import PASSAGE, READING, add_json, add_passage, examples, read_request, refuse_unused
from tempo_coach.cli.trace import add_reading, names
from tempo_coach.languages import tr
from tempo_coach.observe.observers import DEFAULT_SOUND, SOUNDS
from tempo_coach.report.words.observers import say_recorded

if TYPE_CHECKING:
    import argparse
    from collections.abc import Callable, Mapping

    from tempo_coach.coach import Placed
    from tempo_coach.coach.files import Plan
    from tempo_coach.coach.judging import Scorecard


def add(parser: argparse.ArgumentParser) -> None:
    """Add what the command reads."""
    parser.description = tr(
        "Say which cycle broke and how: what was done, as a table of onsets, a sensor's or tracker's table, a film "
        "or a recording, is set against a plan. Or a take of practise is judged again."
    )
    parser.epilog = examples(
        "tempo-coach score onsets.csv --plan mills.json --keep Ada",
        "tempo-coach score wrist.csv --drill rope_figure_eight --tempo 120 --cycles 8",
        "tempo-coach score --sound gym.wav --kind clap --plan mills.json",
    )
    parser.add_argument(
        "onsets",
        metavar="TABLE.csv",
        nargs="?",
        help="columns time (in s from the first sound of the take) and hand; or a trace: times and positions or "
        "readings",
    )
    which = parser.add_mutually_exclusive_group(required=True)
    which.add_argument("--plan", metavar="PLAN.json", help="the plan that cue wrote")
    which.add_argument("--drill", metavar="DRILL", help="a drill, with the options that cue was given")
    which.add_argument("--take", metavar="FILE", help="a take that practise recorded, with its plan and onsets")
    add_passage(parser)
    group = parser.add_argument_group("how a trace is read and put on the take clock (by default where it fits best)")
    add_reading(group)
    group.add_argument(
        "--against",
        type=names,
        default=(),
        metavar="C,D",
        help="point or columns of a second mover, such as the other hand",
    )
    placed = group.add_mutually_exclusive_group()
    placed.add_argument(
        "--clap",
        type=float,
        nargs=2,
        metavar=("ON_TRACE", "ON_TAKE"),
        help="seconds at which both have one and the same clap",
    )
    placed.add_argument(
        "--started",
        metavar="WHEN",
        help="date and time at which the sound of the take began, where the table has dates",
    )
    filmed = parser.add_argument_group("a film, put on the take clock by the music in its sound, or by --clap", CARE)
    filmed.add_argument("--film", metavar="FILE", help="follow markers in this film instead of reading a table")
    filmed.add_argument(
        "--marks", metavar="CSV", help="what you marked in the film by hand: columns frame (from 0) or time, and hand"
    )
    filmed.add_argument(
        "--fps",
        type=float,
        metavar="N",
        help="pictures a second by which the frames of --marks were counted (default: the film's)",
    )
    add_following(filmed)
    heard = parser.add_argument_group(
        "a recording made while the music played, put on the take clock by it, or by --clap; nothing of it is kept"
    )
    heard.add_argument(
        "--sound",
        metavar="FILE",
        nargs="+",
        help="hear what was done in this recording instead of reading a table; or in several, each a take of the plan",
    )
    heard.add_argument(
        "--kind",
        choices=tuple(SOUNDS),
        help=tr(
            "what is heard in it: {recorded}; with --film, in the film's sound instead of its picture",
            recorded=say_recorded(),
        ),
    )
    heard.add_argument("--of", type=names, default=(), metavar="A,B", help="the hands that can be heard (default: all)")
    heard.add_argument(
        "--quiet", metavar="S-S", help="with --sample: where in the recording, before the music, nothing is done"
    )
    heard.add_argument("--sample", metavar="S-S", help="where, before the music, the sound is made a few times")
    kept = parser.add_argument_group("the history")
    kept.add_argument("--keep", metavar="ATHLETE", help="put the take into the history in her name")
    kept.add_argument(
        "--begun", metavar="TIME", help="date and time of the take, such as 2031-05-04T18:15 (default: its own, or now)"
    )
    kept.add_argument(
        "--routine", metavar="NAME", help="the routine that it belongs to, or its file (default: the music's name)"
    )
    kept.add_argument("--note", default="", metavar="TEXT", help="a remark on it")
    add_many(parser)
    add_json(parser)
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Run the command."""
    from tempo_coach import coach
    from tempo_coach.cli.output import print_json
    from tempo_coach.coach.judging import judge_flights
    from tempo_coach.coach.looking_back import read_name
    from tempo_coach.report.words.card import card_to_dict, format_card
    from tempo_coach.report.words.flights import format_take_flights, take_flights_to_dict

    if args.sound and len(args.sound) > 1:
        return run_many(args, "sound", columns=_COLUMNS, refused="keep onsets film marks take")
    args = take_one(args, "sound")
    if args.keep is not None:
        read_name(args.keep)  # refused before anything is read
    placed, begun, setup = find_take(args)
    card = coach.judge_placed(placed)
    flights = judge_flights(card)
    if args.json:
        print_json(card_to_dict(card) | take_flights_to_dict(card, *flights))
    else:
        print("\n\n".join([format_card(card), *format_take_flights(card, *flights)]), flush=True)
    if args.keep is not None:  # whatever becomes of that, the card is there
        _keep(args, placed, card, begun, setup)
    return 0


def _number(name: str, digits: int = 1) -> Callable[[Any], str]:
    return lambda found: "" if found[name] is None else f"{found[name]:.{digits}f}"


#: What the table of several recordings has of each.
_COLUMNS: Mapping[str, Callable[[Any], str]] = {
    "n": lambda found: str(found["n"]),
    "bias ms": _number("bias_ms"),
    "spread ms": _number("spread_ms"),
    "missed": lambda found: str(found["missed"]),
    "extra": lambda found: str(found["extra"]),
    "": lambda found: str(found["sentence"]),
}


def _keep(args: argparse.Namespace, placed: Placed, card: Scorecard, begun: str, setup: dict[str, object]) -> None:
    from tempo_coach.cli.output import say
    from tempo_coach.coach import archiving
    from tempo_coach.coach.looking_back import now

    number = archiving.keep_take(
        placed.take,
        athlete=args.keep,
        begun=args.begun or begun or now(),
        card=card,
        routine=None if args.routine is None else archiving.name_routine(args.routine),
        setup={**setup, **archiving.say_placing(placed)},
        note=args.note,
    )
    say(tr("Kept as take {number} of {keep}.", number=number, keep=args.keep))


def find_take(args: argparse.Namespace) -> tuple[Placed, str, dict[str, object]]:
    """Return the take that the options of ``score`` name, put beside its plan.

    Returns
    -------
    placed : Placed
    begun : str
        When it began, ISO 8601, where its file or ``--started`` says so; else empty.
    setup : dict
        What is to be kept with it in the history.

    Raises
    ------
    CoachError
        If the options do not go together, or nothing of the take can be read, found or heard.
    """
    from tempo_coach import coach
    from tempo_coach.cli.output import Progress, warn
    from tempo_coach.coach.files import read_plan
    from tempo_coach.errors import CoachError

    _refuse_several(args)
    if args.take:
        from pathlib import Path

        from tempo_coach.coach.placing import read_take_file

        file = read_take_file(args.take)
        setup: dict[str, object] = {"player": file.player, "file": str(Path(args.take).resolve())}
        if not _seen(args):
            return coach.Placed(file.take, True, None), file.begun, setup
        return _place(args, file.take.plan), file.begun, setup
    if not _seen(args):
        raise CoachError("score.no_onsets", where="score")
    if args.plan:
        plan = read_plan(args.plan)
    else:
        with Progress("hearing the music") as progress:
            plan = coach.lay(read_request(args, args.drill), warn=warn, progress=progress)
    return _place(args, plan), args.started or "", {}


def _seen(args: argparse.Namespace) -> bool:
    """Return whether any input says what was done."""
    return bool(args.onsets or args.film or args.marks or args.sound)


def _refuse_several(args: argparse.Namespace) -> None:
    """Refuse several inputs at once, and options of a sound without one."""
    from tempo_coach.errors import CoachError

    if args.onsets and (args.film or args.marks):
        raise CoachError("score.table_and_film", where="--film")
    if args.sound and (args.onsets or args.film or args.marks):
        raise CoachError("score.recording_alone", where="--sound")
    if args.kind and args.marks:
        raise CoachError("score.marks_and_sound", where="--kind")
    if not (args.sound or (args.film and args.kind)):
        for name in ("kind", "of", "quiet", "sample"):
            if getattr(args, name):
                raise CoachError("score.nothing_to_hear", where=f"--{name}")
    _refuse_unused(args)


#: Options that are read with a trace alone, and that say what is followed in a film.
_TRACED, _FOLLOWED = READING.replace(" period", ""), "marker at part without"


def _refuse_unused(args: argparse.Namespace) -> None:
    """Refuse options without effect on the given input."""
    refuse_unused(args, PASSAGE, "without --drill: the plan has it", unless=args.drill)
    refuse_unused(args, "begun routine note", "without --keep", unless=args.keep is not None)
    refuse_unused(args, tr("{traced} against", traced=_TRACED), "without a table", unless=args.onsets)
    followed = args.film and not (args.marks or args.kind)
    refuse_unused(args, "period", "without a trace or markers in a film", unless=args.onsets or followed)
    refuse_unused(args, _FOLLOWED, "where no marker is followed in a film", unless=followed)
    refuse_unused(args, "film_from film_to", "without --film", unless=args.film)
    refuse_unused(args, "slowed", "without --film or --marks", unless=args.film or args.marks)
    refuse_unused(args, "fps", "without --marks", unless=args.marks)
    refuse_unused(args, "clap", "where the take has its clock already", unless=_seen(args))
    dated = args.onsets or (args.keep is not None and not args.take)
    refuse_unused(args, "started", "without a table or --keep", unless=dated)


def _hear_sound(args: argparse.Namespace, plan: Plan) -> Placed:
    """Return the onsets of a recording, or of a film's sound, on the take clock of a plan."""
    from tempo_coach import coach
    from tempo_coach.cli.film import look
    from tempo_coach.cli.output import Progress, warn
    from tempo_coach.coach import read_stretch

    with Progress("finding the music in the recording") as progress:
        return coach.place_sound(
            args.sound or args.film,
            plan,
            kind=args.kind or DEFAULT_SOUND,
            film=look(args, args.film) if args.film else None,
            hands=args.of,
            quiet=None if args.quiet is None else read_stretch(args.quiet, where="--quiet"),
            sample=None if args.sample is None else read_stretch(args.sample, where="--sample"),
            clap=None if args.clap is None else tuple(args.clap),
            warn=warn,
            progress=progress,
        )


def _place(args: argparse.Namespace, plan: Plan) -> Placed:
    """Return the table of onsets, or the trace, on the take clock of a plan."""
    from tempo_coach import coach
    from tempo_coach.cli.output import warn
    from tempo_coach.cli.trace import read_table
    from tempo_coach.coach.placing import is_trace, place_onsets
    from tempo_coach.coach.tracing import read_instant
    from tempo_coach.errors import CoachError

    if args.sound or args.kind:
        return _hear_sound(args, plan)
    if args.marks:
        return _read_marks(args, plan)
    if args.film:
        return _follow_film(args, plan)
    if not is_trace(args.onsets):
        refuse_unused(
            args,
            tr("{reading} against clap", reading=READING),
            "with a table of onsets, which is on the take clock already",
        )
        refuse_unused(args, "started", "with a table of onsets, unless it is kept", unless=args.keep is not None)
        return place_onsets(args.onsets, plan, warn=warn)
    try:
        return coach.place_trace(
            read_table(args, args.onsets),
            plan,
            point=args.point,
            columns=args.columns,
            against=args.against,
            period=args.period,
            clap=None if args.clap is None else tuple(args.clap),
            started=None if args.started is None else read_instant(args.started, where="--started"),
            warn=warn,
        )
    except CoachError as error:
        raise error.at(error.where or args.onsets) from error


def _follow_film(args: argparse.Namespace, plan: Plan) -> Placed:
    """Return the film's take on a plan's clock; the music in its sound is tried first, as it is quick and may fail."""
    from tempo_coach import coach
    from tempo_coach.cli.film import follow, look
    from tempo_coach.cli.output import Progress, warn

    clap = None if args.clap is None else tuple(args.clap)
    with Progress("finding the music in the film") as progress:
        alignment = coach.align_film(look(args, args.film), plan, clap=clap, warn=warn, progress=progress)
    filmed = follow(args, args.film)
    for note in filmed.notes:
        warn(note)
    return coach.place_film(filmed, plan, alignment, period=args.period, warn=warn)


def _read_marks(args: argparse.Namespace, plan: Plan) -> Placed:
    """Return marks made by hand on the take clock: by the music in the film's sound, or by a clap."""
    from tempo_coach.cli.film import look
    from tempo_coach.cli.output import Progress, warn
    from tempo_coach.coach.placing import place_marks

    film = look(args, args.film) if args.film else None
    with Progress("finding the music in the film") as progress:
        return place_marks(
            args.marks,
            plan,
            film=film,
            clap=None if args.clap is None else tuple(args.clap),
            rate_hz=args.fps,
            slowed=args.slowed,
            warn=warn,
            progress=progress,
        )
