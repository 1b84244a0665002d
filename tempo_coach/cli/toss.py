"""``tempo-coach toss``: counts to height, speed and angle, and back."""

from __future__ import annotations

from typing import TYPE_CHECKING

from tempo_coach.cli.options import READING, add_force, add_json, examples, refuse_unused
from tempo_coach.cli.trace import add_reading
from tempo_coach.languages import tr

if TYPE_CHECKING:
    import argparse

_NUMBER_HELPS = (
    ("--counts", "N", "length of the flight in counts"),
    ("--tempo", "BPM", "beats a minute; with --music about how fast it is counted"),
    ("--flight", "S", "time in the air in seconds"),
    ("--release", "M", "height of the release above the floor in metres"),
    ("--catch", "M", "height of the catch above the floor in metres"),
    ("--distance", "M", "metres from the release to the catch along the floor"),
    ("--rise", "M", "highest point above the release in metres"),
    ("--apex", "M", "highest point above the floor in metres"),
    ("--speed", "MPS", "release speed in m/s"),
    ("--angle", "DEG", "release angle above the horizontal in degrees"),
)


def add(parser: argparse.ArgumentParser) -> None:
    """Add what the command reads."""
    parser.description = tr(
        "Plan a toss: how high, how fast and how steep for its counts, and what an early or a late release does. "
        "Give what is known, the rest is worked out. Before it is tossed at speed: clear space, a look at the "
        "height of the hall, and a coach."
    )
    parser.epilog = examples(
        "tempo-coach toss --counts 4 --tempo 120 --release 1.8 --catch 1.2 --distance 3 --apparatus ball"
    )
    group = parser.add_argument_group("what is known")
    for option, metavar, told in _NUMBER_HELPS:
        group.add_argument(option, type=float, metavar=metavar, help=told)
    group.add_argument("--music", metavar="FILE", help="take the tempo from a place in music: with --counts")
    group.add_argument("--routine", metavar="FILE.toml", help="take it from a place in a routine: with --counts")
    group.add_argument(
        "--from-eight", type=int, default=1, metavar="N", help="with --music or --routine: the eight (default 1)"
    )
    group.add_argument("--on", type=int, default=1, metavar="N", help="the count of the release, 1 to 8 (default 1)")
    parser.add_argument(
        "--apparatus",
        metavar="NAME",
        help="ball, clubs, hoop (on edge) or hoop-face-on: the air slows it (default: without air)",
    )
    parser.add_argument(
        "--turning", type=float, metavar="DPS", help="how fast the arm turns at the release, in degrees a second"
    )
    parser.add_argument(
        "--reach", type=float, metavar="M", help="metres that a catch may be off and still be had (default 0.7)"
    )
    parser.add_argument("--moves", metavar="FILE.toml", help="another table of moves and their lengths in counts")
    parser.add_argument("--table", action="store_true", help="show the tosses of 2 to 8 counts at --tempo")
    parser.add_argument("--svg", metavar="FILE.svg", help="write the picture of the flight")
    add_json(parser)
    add_force(parser)
    group = parser.add_argument_group("a toss that was done, beside what is asked (heights and distance as done)")
    group.add_argument("--trace", metavar="TRACE.csv", help="positions of the apparatus: its flights are told")
    add_reading(group)
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Run the command."""
    from tempo_coach.cli.output import check_outputs
    from tempo_coach.errors import CoachError, WrongUsage

    check_outputs(args, "svg")
    if not 1 <= args.on <= 8:
        raise WrongUsage("toss.on", where="--on", on=args.on)
    _refuse_unused(args)
    options = {option.removeprefix("--") for option, _, _ in _NUMBER_HELPS} | {"apparatus", "reach"}
    try:
        if args.trace:
            return _run_trace(args)
        return _run_table(args) if args.table else _run_toss(args)
    except CoachError as error:
        if error.where not in options:
            raise
        raise error.at(f"--{error.where}") from error


def _refuse_unused(args: argparse.Namespace) -> None:
    """Refuse options without effect on the requested toss, table or trace."""
    if args.trace:
        refuse_unused(args, "apparatus turning reach moves table svg", "with --trace")
    else:
        refuse_unused(args, READING, "without --trace")
    if args.table:
        refuse_unused(args, "counts flight rise apex speed angle", "with --table, which has 2 to 8 counts")
        refuse_unused(args, "music routine from_eight on turning reach moves svg", "with --table")
    elif args.trace and not (args.music or args.routine):
        refuse_unused(args, "on", "with --trace, but for --music or --routine")
    refuse_unused(args, "from_eight", "without --music or --routine", unless=args.music or args.routine)
    refuse_unused(args, "tempo", "with --routine, which has it", unless=not args.routine)


def _read_asked(args: argparse.Namespace) -> dict[str, float]:
    """Return the known quantities for :func:`tempo_coach.pattern.toss.solver.solve_toss`."""
    from tempo_coach.errors import WrongUsage

    tempo, flight = args.tempo, args.flight
    if args.music and args.routine:
        raise WrongUsage("toss.music_and_routine", where="--music")
    if args.music or args.routine:
        if args.counts is None or flight is not None:
            where = "--music" if args.music else "--routine"
            raise WrongUsage("toss.counts_alone", where=where, option=where)
        tempo, flight = None, _hear_flight(args)
    known = {
        "counts": args.counts,
        "tempo_bpm": tempo,
        "flight": flight,
        "release_m": args.release,
        "catch_m": args.catch,
        "distance_m": args.distance,
        "rise_m": args.rise,
        "apex_m": args.apex,
        "speed_mps": args.speed,
        "angle_deg": args.angle,
    }
    return {name: value for name, value in known.items() if value is not None}


def _hear_flight(args: argparse.Namespace) -> float:
    """Return the duration of the counts at that place of the music, s."""
    from tempo_coach.cli.output import Progress, warn
    from tempo_coach.coach.tossing import hear_flight

    with Progress("hearing the music") as progress:
        return hear_flight(
            args.counts,
            args.routine or args.music,
            is_routine=bool(args.routine),
            from_eight=args.from_eight,
            on=args.on,
            tempo_bpm=args.tempo,
            warn=warn,
            progress=progress,
        )


def _run_toss(args: argparse.Namespace) -> int:
    from tempo_coach.cli.output import print_json, write_text
    from tempo_coach.coach.tossing import plan_toss
    from tempo_coach.report.drawings.flight import draw_flight_svg
    from tempo_coach.report.words.toss import format_planned

    planned = plan_toss(
        _read_asked(args), apparatus=args.apparatus, turning_dps=args.turning, reach_m=args.reach, moves=args.moves
    )
    if args.svg:
        write_text(args.svg, draw_flight_svg(planned.toss, from_count=args.on), force=args.force)
    if args.json:
        print_json(planned.to_dict())
    else:
        print(format_planned(planned, from_count=args.on))
    return 0


def _run_table(args: argparse.Namespace) -> int:
    from tempo_coach.cli.output import print_json
    from tempo_coach.coach.tossing import plan_table
    from tempo_coach.errors import WrongUsage
    from tempo_coach.report.words.toss import format_table

    if args.tempo is None:
        raise WrongUsage("toss.table_without_tempo", where="--table")
    table = plan_table(
        args.tempo,
        release_m=args.release,
        catch_m=args.catch,
        distance_m=args.distance,
        apparatus=args.apparatus,
    )
    if args.json:
        print_json(table.to_dict())
    else:
        print(format_table(table))
    return 0


def _run_trace(args: argparse.Namespace) -> int:
    from tempo_coach.cli.output import print_json
    from tempo_coach.cli.trace import read_table
    from tempo_coach.coach.tossing import find_tosses
    from tempo_coach.errors import CoachError
    from tempo_coach.report.words.tossed import flights_to_dict, format_flights

    trace = read_table(args, args.trace)
    try:
        tossed = find_tosses(trace, _read_asked(args), point=args.point, columns=args.columns)
    except CoachError as error:
        raise error.at(error.where or args.trace) from error
    if args.json:
        print_json(flights_to_dict(tossed, trace))
    else:
        print(format_flights(tossed))
    return 0
