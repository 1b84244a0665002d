"""``tempo-coach toss``: counts to height, speed and angle, and back."""

from __future__ import annotations

from typing import TYPE_CHECKING

from tempo_coach.cli.options import READING, add_force, add_json, examples, refuse_unused
from tempo_coach.cli.trace import add_reading
from tempo_coach.languages import tr

if TYPE_CHECKING:
    import argparse

    from tempo_coach.pattern.toss.drag import DragToss
    from tempo_coach.pattern.toss.toss import Toss

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


def _solve(args: argparse.Namespace) -> Toss:
    from tempo_coach.pattern.toss.solver import solve_toss

    return solve_toss(**_read_asked(args), otherwise=None)


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
    from tempo_coach import coach
    from tempo_coach.cli.output import Progress, warn
    from tempo_coach.errors import CoachError

    with Progress("hearing the music") as progress:
        if args.routine:
            opened = coach.open_routine(args.routine, warn=warn, progress=progress)
            counts = opened.counts
            for note in opened.said:
                warn(note)
        else:
            counts = coach.hear(args.music, tempo_bpm=args.tempo, warn=warn, progress=progress).counts
    first = float(counts.start_of_eight(args.from_eight)) + args.on - 1
    last = first + args.counts
    if not (0 < args.counts <= 64 and counts.first_count <= first and last <= counts.last_count + 1):
        raise CoachError(
            "toss.beyond_music",
            where=args.routine or args.music,
            counts=args.counts,
            from_eight=args.from_eight,
            on=args.on,
        )
    return float(counts.seconds_at(last) - counts.seconds_at(first, after=True))


def _run_toss(args: argparse.Namespace) -> int:
    from pathlib import Path

    from tempo_coach.cli.output import print_json, write_text
    from tempo_coach.errors import CoachError
    from tempo_coach.pattern.toss import release
    from tempo_coach.pattern.toss.bodies import find_body
    from tempo_coach.pattern.toss.drag import add_drag
    from tempo_coach.pattern.toss.moves import fit_moves, read_moves
    from tempo_coach.report.drawings import flight
    from tempo_coach.report.words import toss as toss_words

    body = find_body(args.apparatus) if args.apparatus else None
    moves = read_moves(Path(args.moves) if args.moves else None)
    toss = _solve(args)
    drag: DragToss | None = None
    if body:
        drag = add_drag([toss], body)[0]
        if drag is None:
            raise CoachError("toss.too_fast_in_air", where="flight", name=body.name)
    reach = release.REACH_M if args.reach is None else args.reach
    turning = release.turn_of_arm(toss) if args.turning is None else args.turning
    rows = release.show_sensitivity(toss, turning_dps=turning)
    windows = release.find_windows(toss, reach_m=reach, turning_dps=turning)
    passing = release.find_passing(toss, reach_m=reach)
    fits = [] if toss.counts is None else fit_moves(toss.counts, moves)
    if args.svg:
        write_text(args.svg, flight.draw_flight_svg(toss, from_count=args.on), force=args.force)
    if args.json:
        print_json(
            toss.to_dict(drag)
            | {
                "turning_dps": turning,
                "sensitivity": rows,
                "reach_m": reach,
                "windows": {name: list(edges) for name, edges in windows.items()},
                "passing_s": list(passing),
                "moves": [fit.to_dict() for fit in fits],
            }
        )
        return 0
    parts = [
        toss_words.format_toss(toss, drag),
        flight.draw_flight(toss, width=78, height=18, from_count=args.on),
        toss_words.format_release(
            rows, windows, passing, reach_m=reach, turning_dps=turning, estimated=args.turning is None
        ),
    ]
    if fits:
        parts.append(toss_words.format_fits(fits))
    print("\n\n".join([*parts, toss_words.say_caution()]))
    return 0


def _run_table(args: argparse.Namespace) -> int:
    from tempo_coach.cli.output import print_json
    from tempo_coach.errors import WrongUsage
    from tempo_coach.pattern.toss.bodies import find_body
    from tempo_coach.pattern.toss.drag import add_drag
    from tempo_coach.pattern.toss.solver import CATCH_M, RELEASE_M, tabulate_tosses
    from tempo_coach.report.words.toss import format_table, say_caution

    if args.tempo is None:
        raise WrongUsage("toss.table_without_tempo", where="--table")
    tosses, beyond = tabulate_tosses(
        tempo_bpm=args.tempo,
        release_m=RELEASE_M if args.release is None else args.release,
        catch_m=CATCH_M if args.catch is None else args.catch,
        distance_m=args.distance or 0.0,
    )
    drags = add_drag(tosses, find_body(args.apparatus)) if args.apparatus else None
    if args.json:
        shown = [toss.to_dict(drags[k] if drags else None) for k, toss in enumerate(tosses)]
        print_json({"tosses": shown, "beyond": [counts for counts, _ in beyond]})
    else:
        print(f"{format_table(tosses, beyond, drags)}\n\n{say_caution()}")
    return 0


def _run_trace(args: argparse.Namespace) -> int:
    from tempo_coach.cli.output import print_json
    from tempo_coach.cli.trace import read_table
    from tempo_coach.errors import CoachError
    from tempo_coach.observe.trace.flights import find_flights
    from tempo_coach.observe.trace.selection import pick
    from tempo_coach.report.words.reasons import say_reason
    from tempo_coach.report.words.toss import flight_to_dict, say_caution, say_flight
    from tempo_coach.score.trace.throws import set_tosses_beside

    trace = read_table(args, args.trace)
    body = pick(trace, point=args.point, columns=args.columns, quantity="position")
    try:
        flights = find_flights(body)
    except CoachError as error:
        raise error.at(error.where or args.trace) from error
    if not flights:
        raise CoachError("toss.no_flight_in_trace", where=args.trace)
    tossed = set_tosses_beside(flights, _read_asked(args))
    if args.json:
        understood = [say_reason(note) for note in trace.notes]
        print_json({"understood": understood, "flights": [flight_to_dict(each) for each in tossed]})
    else:
        print("\n".join([*(f"{number}. {say_flight(each)}" for number, each in enumerate(tossed, 1)), say_caution()]))
    return 0
