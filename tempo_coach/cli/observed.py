"""The observation that the options of ``score`` name, on the take clock: a table, film, marks, recording or take."""

from __future__ import annotations

from typing import TYPE_CHECKING

from tempo_coach.cli.options import PASSAGE, READING, read_request, refuse_unused
from tempo_coach.observe.observers import DEFAULT_SOUND

if TYPE_CHECKING:
    import argparse

    from tempo_coach.coach import Placed
    from tempo_coach.pattern.plan.plan import Plan


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
    from tempo_coach.errors import CoachError
    from tempo_coach.pattern.plan.plan_file import read_plan

    _refuse_several(args)
    if args.take:
        from pathlib import Path

        from tempo_coach.observe.take.take_file import read_take_file

        file = read_take_file(args.take)
        setup: dict[str, object] = {"player": file.player, "file": str(Path(args.take).resolve())}
        if not _seen(args):
            return coach.Placed(file.take, True, None), file.begun, setup
        return _place(args, file.take.plan), file.begun, setup
    if not _seen(args):
        raise CoachError(
            "expected a table of onsets", where="score", hint="name the CSV file, or give --sound, --film or --take"
        )
    if args.plan:
        plan = read_plan(args.plan)
    else:
        with Progress("hearing the music") as progress:
            plan = coach.lay(read_request(args, args.drill), warn=warn, progress=progress)
    return _place(args, plan), args.started or "", {}


def _seen(args: argparse.Namespace) -> bool:
    """Whether anything says what was done."""
    return bool(args.onsets or args.film or args.marks or args.sound)


def _refuse_several(args: argparse.Namespace) -> None:
    """Refuse two things that each say what was done, and options of a sound without one."""
    from tempo_coach.errors import CoachError

    if args.onsets and (args.film or args.marks):
        raise CoachError("expected a table or a film, got both", where="--film", hint="leave one of them out")
    if args.sound and (args.onsets or args.film or args.marks):
        raise CoachError("expected a recording alone", where="--sound", hint="leave the table or the film out")
    if args.kind and args.marks:
        raise CoachError("expected marks or a sound, got both", where="--kind", hint="leave one of them out")
    if not (args.sound or (args.film and args.kind)):
        for name in ("kind", "of", "quiet", "sample"):
            if getattr(args, name):
                hint = "give --sound FILE, or --film FILE with --kind"
                raise CoachError("nothing is there to be listened to", where=f"--{name}", hint=hint)
    _refuse_unused(args)


#: Options that are read with a trace alone, and that say what is followed in a film.
_TRACED, _FOLLOWED = READING.replace(" period", ""), "marker at part without"


def _refuse_unused(args: argparse.Namespace) -> None:
    """Refuse options that say nothing about what was given."""
    refuse_unused(args, PASSAGE, "without --drill: the plan has it", unless=args.drill)
    refuse_unused(args, "begun routine note", "without --keep", unless=args.keep is not None)
    refuse_unused(args, f"{_TRACED} against", "without a table", unless=args.onsets)
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
    """What is heard in a recording, or in a film's sound, on the take clock of a plan."""
    from tempo_coach import coach
    from tempo_coach.cli.film_options import look
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
    """The table of onsets, or the trace, on the take clock of a plan."""
    from tempo_coach import coach
    from tempo_coach.cli.output import warn
    from tempo_coach.cli.trace import read_table
    from tempo_coach.errors import CoachError
    from tempo_coach.observe.take.onsets import Take, read_onsets
    from tempo_coach.observe.trace.header import is_trace

    if args.sound or args.kind:
        return _hear_sound(args, plan)
    if args.marks:
        return _read_marks(args, plan)
    if args.film:
        return _follow_film(args, plan)
    if not is_trace(args.onsets):
        refuse_unused(args, f"{READING} against clap", "with a table of onsets, which is on the take clock already")
        refuse_unused(args, "started", "with a table of onsets, unless it is kept", unless=args.keep is not None)
        onsets = read_onsets(args.onsets, hands=plan.hands, warn=warn)
        return coach.Placed(Take(plan, onsets), True, None)
    try:
        return coach.place_trace(
            read_table(args, args.onsets),
            plan,
            point=args.point,
            columns=args.columns,
            against=args.against,
            period=args.period,
            clap=None if args.clap is None else tuple(args.clap),
            started=None if args.started is None else _read_instant(args.started),
            warn=warn,
        )
    except CoachError as error:
        raise CoachError(error.message, where=error.where or args.onsets, hint=error.hint) from error


def _follow_film(args: argparse.Namespace, plan: Plan) -> Placed:
    """The film on the take clock of a plan. What is quick and may fail comes first: the music in its sound."""
    from tempo_coach import coach
    from tempo_coach.cli.film_options import follow, look
    from tempo_coach.cli.output import Progress, warn

    clap = None if args.clap is None else tuple(args.clap)
    with Progress("finding the music in the film") as progress:
        alignment = coach.align_film(look(args, args.film), plan, clap=clap, warn=warn, progress=progress)
    filmed = follow(args, args.film)
    for note in filmed.notes:
        warn(f"{note}.")
    return coach.place_film(filmed, plan, alignment, period=args.period, warn=warn)


def _read_marks(args: argparse.Namespace, plan: Plan) -> Placed:
    """What was marked by hand, on the take clock: by the music in the film's sound, or by a clap."""
    from tempo_coach import coach
    from tempo_coach.cli.film_options import look
    from tempo_coach.cli.output import Progress, warn
    from tempo_coach.errors import CoachError
    from tempo_coach.observe.film.marks import marks_to_take, read_marks
    from tempo_coach.observe.take.clock import ClockLine

    film = look(args, args.film) if args.film else None
    marks = read_marks(args.marks, hands=plan.hands, rate_hz=args.fps, film=film)
    if film is not None:
        clap = None if args.clap is None else tuple(args.clap)
        with Progress("finding the music in the film") as progress:
            line = coach.align_film(film, plan, clap=clap, warn=warn, progress=progress).line
    elif args.clap is not None:
        line = ClockLine(args.clap[0], args.clap[1], 1.0, float("nan"), 1)
    else:
        raise CoachError(
            "nothing says where on the music the marks lie", where="--marks", hint="give --film FILE, or --clap"
        )
    slowed = (args.slowed or 1.0) if film is None else film.slowed
    rate_hz = args.fps if film is None else film.rate_hz
    take = marks_to_take(marks, plan, line, slowed=slowed, rate_hz=rate_hz * slowed if rate_hz else None)
    return coach.Placed(take, True, None)


def _read_instant(text: str) -> float:
    """Return a date and time as seconds since 1970."""
    from tempo_coach.errors import CoachError
    from tempo_coach.observe.trace.stamps import parse_moments

    found = parse_moments([text])
    if found is None or not found[0] > 1e8:
        raise CoachError(
            f"expected a date and time, got {text}", where="--started", hint="write it like 2031-05-04T18:15:02.250"
        )
    return float(found[0])
