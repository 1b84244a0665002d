"""``tempo-coach trace``: cycles, circles, lags and flights in a table of a sensor or tracker."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from tempo_coach.cli.many_files import add_many, run_many, take_one
from tempo_coach.cli.options import add_force, add_json, examples, quoted, refuse_unused
from tempo_coach.languages import tr
from tempo_coach.report.words.amounts import say_decimal

if TYPE_CHECKING:
    import argparse
    from collections.abc import Callable, Mapping, Sequence

    from tempo_coach.coach.tracing import Study, Trace


def add(parser: argparse.ArgumentParser) -> None:
    """Add what the command reads."""
    parser.description = tr(
        "Find cycles, circles, flights, how far one hand trails the other, and the cycle that broke, in a table of "
        "times and positions or readings, as a sensor or a program that follows points in films writes it (CSV or "
        "TSV)."
    )
    parser.epilog = examples("tempo-coach trace wrist.csv --picture")
    parser.add_argument(
        "trace",
        metavar="TRACE.csv",
        nargs="+",
        help="a table with a header: time and positions or readings; or several",
    )
    add_reading(parser)
    parser.add_argument(
        "--against",
        type=names,
        default=(),
        metavar="C,D",
        help="point or columns of a second mover, such as the other hand",
    )
    parser.add_argument(
        "--asked", type=float, metavar="DEG", help="by how many degrees of the cycle the second mover was to trail"
    )
    parser.add_argument(
        "--drill",
        metavar="DRILL",
        help="what is taught: its circles a cycle decide what a cycle is, and it is drawn beside where they fell",
    )
    parser.add_argument("--plan", metavar="PLAN.json", help="a plan with a toss: flights are set beside what it asks")
    parser.add_argument("--picture", action="store_true", help="draw the movement unrolled, one row a cycle")
    parser.add_argument(
        "--svg",
        metavar="FILE.svg",
        help="write everything as one picture: cycles, circles, and how the point goes round",
    )
    add_many(parser)
    add_force(parser)
    add_json(parser)
    parser.set_defaults(run=run)


def add_reading(parser: argparse._ActionsContainer) -> None:
    """Add the options for reading a table."""
    parser.add_argument(
        "--point", metavar="NAME", help="the point or sensor to look at (default: the first one that can be used)"
    )
    parser.add_argument(
        "--columns", type=names, default=(), metavar="A,B", help="its columns by name (default: found by their names)"
    )
    parser.add_argument("--time-column", metavar="NAME", help="the column of times (default: found by its name)")
    parser.add_argument("--rate", type=float, metavar="HZ", help="readings a second, for a table without times")
    add_unit(parser)
    parser.add_argument(
        "--period", type=float, metavar="S", help="seconds that a cycle takes, where it is known (default: found)"
    )
    parser.add_argument(
        "--from", dest="start", type=float, metavar="S", help="leave out what comes before this second of the table"
    )
    parser.add_argument(
        "--to", dest="end", type=float, metavar="S", help="leave out what comes after this second of the table"
    )


def add_unit(parser: argparse._ActionsContainer) -> None:
    """Add the option for the meaning of a table's columns."""
    parser.add_argument(
        "--unit",
        action="append",
        default=[],
        metavar="WHAT=UNIT",
        help="in what columns are, and what they are where their names do not say it, for example position=cm or "
        "rotation=deg/s (default: found by their names, or as was answered for the same header)",
    )


def read_units(given: Sequence[str]) -> dict[str, str]:
    """Return the values of the options of :func:`add_unit`.

    Raises
    ------
    CoachError
        If one of them is not written so.
    """
    from tempo_coach.errors import CoachError

    units = {}
    for each in given:
        what, mark, unit = each.partition("=")
        if not mark:
            raise CoachError("trace.unit_unreadable", where="--unit", given=each)
        units[what] = unit
    return units


def run(args: argparse.Namespace) -> int:
    """Run the command."""
    from tempo_coach.cli.output import check_outputs, print_json, write_text
    from tempo_coach.coach import load_drill
    from tempo_coach.coach.tracing import asked_toss, count_circles, place_taught
    from tempo_coach.report.drawings.studied import draw_study
    from tempo_coach.report.pages.composed import study_svg
    from tempo_coach.report.words.trace import format_study, say_taught, study_to_dict

    if len(args.trace) > 1:
        return run_many(args, "trace", columns=_COLUMNS, refused="picture svg")
    args = take_one(args, "trace")
    refuse_unused(args, "picture", "with --json", unless=not args.json)
    check_outputs(args, "svg")
    drill = load_drill(args.drill) if args.drill else None
    taught = place_taught(drill.pattern) if drill else []
    trace, found = look(
        args,
        against=args.against,
        asked=args.asked,
        circles=count_circles(drill) if drill else None,
        toss=asked_toss(args.plan) if args.plan is not None else None,
    )
    if args.svg:
        picture = study_svg(found, taught=taught, asked=args.period)
        write_text(args.svg, picture + "\n", force=args.force)
    if args.json:
        print_json(study_to_dict(found, trace))
    else:
        print(format_study(found, trace, taught=say_taught(drill.pattern) if drill else ""))
        if args.picture:
            print("\n\n" + draw_study(found, taught=taught, asked=args.period, plain=args.plain))
    return 0


#: What the table of several files has of each.
_COLUMNS: Mapping[str, Callable[[Any], str]] = {
    "cycles": lambda found: str(found["cycle_count"]),
    "period s": lambda found: "" if found["period_s"] is None else say_decimal(found["period_s"], ".3f"),
    "sure": lambda found: "" if found["period_confidence"] is None else say_decimal(found["period_confidence"], ".2f"),
    "uneven": lambda found: str(len(found["flags"])),
    "lag deg": lambda found: " ".join(f"{lag['deg']:.0f}" for lag in found["lags"] if lag["deg"] is not None),
}


def look(
    args: argparse.Namespace,
    *,
    against: tuple[str, ...] = (),
    asked: float | None = None,
    circles: int | None = None,
    toss: Mapping[str, float] | None = None,
) -> tuple[Trace, Study]:
    """Read the table and study it, as the options say.

    Raises
    ------
    CoachError
        If the table cannot be read, or shows no movement that could be studied.
    """
    from tempo_coach.cli.output import Progress
    from tempo_coach.coach.tracing import study
    from tempo_coach.errors import CoachError

    with Progress("reading the trace") as progress:
        trace = read_table(args, args.trace)
        progress(0.5)
        try:
            found = study(
                trace,
                point=args.point,
                columns=args.columns,
                against=against,
                asked_deg=asked,
                period=args.period,
                circles=circles,
                toss=toss,
            )
        except CoachError as error:
            raise error.at(error.where or args.trace) from error
        progress(1.0)
    return trace, found


def read_table(args: argparse.Namespace, path: str) -> Trace:
    """Read a table as the options of :func:`add_reading` say.

    Raises
    ------
    CoachError
        If it cannot be read as the options say.
    """
    from tempo_coach.coach import read_answered
    from tempo_coach.coach.tracing import cut_trace

    trace = read_answered(path, time_column=args.time_column, rate_hz=args.rate, units=read_units(args.unit))
    return cut_trace(trace, args.start, args.end)


def names(text: str) -> tuple[str, ...]:
    """Return the names in a list with commas.

    Raises
    ------
    argparse.ArgumentTypeError
        If there is none, or one of them stands there twice.
    """
    from argparse import ArgumentTypeError

    found = tuple(name.strip() for name in text.split(",") if name.strip())
    if not found or len(set(found)) < len(found):
        raise ArgumentTypeError(f"expected different names with commas between, got {quoted(text)}")
    return found
