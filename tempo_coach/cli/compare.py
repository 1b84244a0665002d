"""``tempo-coach compare``: what a drill teaches beside what a trace shows."""

from __future__ import annotations

from typing import TYPE_CHECKING

from tempo_coach.cli.options import add_json, examples

if TYPE_CHECKING:
    import argparse

    from tempo_coach.score.learn import Beside


def add(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add the command."""
    from tempo_coach.cli.trace import add_reading

    parser = commands.add_parser(
        "compare",
        help="set what a drill teaches beside what a trace shows",
        description="Set where in the cycle a drill has its circles beside where a recorded movement has them, in per "
        "cent of the cycle, and say how many counts each was early or late.",
        epilog=examples("tempo-coach compare rope_figure_eight wrist.csv"),
    )
    parser.add_argument("drill", metavar="DRILL", help="name or file of a drill")
    parser.add_argument("trace", metavar="TRACE.csv", help="a table with a header: time and positions or readings")
    add_reading(parser)
    add_json(parser)
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Run the command."""
    import numpy as np

    from tempo_coach.cli.output import print_json
    from tempo_coach.cli.trace import look
    from tempo_coach.coach import load_drill
    from tempo_coach.report.traced import say_place
    from tempo_coach.score.learn import set_beside

    drill = load_drill(args.drill)
    _, found = look(args)
    periods = found.main.cycles.periods
    period = float(np.median(periods)) if periods.size else found.main.cycles.rhythm.period
    rows = set_beside(drill.pattern, found)
    counts = drill.pattern.cycle_counts
    hands = drill.pattern.hands
    asked = drill.pattern.asked_lags_deg(hands[1])[0] if len(hands) > 1 else None
    lag = found.lags[0].lag.degrees if found.lags else None
    if args.json:
        print_json(
            {
                "drill": drill.name,
                "cycle_counts": counts,
                "period_s": round(period, 6),
                "moments": [_to_dict(row, counts, period) for row in rows],
                "lag_asked_deg": None if asked is None or np.isnan(asked) else asked,
                "lag_deg": None if lag is None or np.isnan(lag) else round(lag, 4),
            }
        )
        return 0
    print(f"{drill.title}: {counts:g} counts; this take: cycles of {period:.3f} s")
    for row in rows:
        taught = "not asked for" if row.taught is None else f"{row.label}: taught at {round(100 * row.taught) % 100} %"
        if row.done is None:
            print(f"  {taught}, not done")
            continue
        done = f"done at {round(100 * row.done.at) % 100} % ± {100 * row.done.sd:.1f} ({say_place(row.done.at)})"
        late = "" if np.isnan(row.off) else f", {abs(row.off) * counts:.2f} counts {'late' if row.off > 0 else 'early'}"
        print(f"  {taught}, {done}{late}")
    if asked is not None and lag is not None:
        print(f"  the second trails the first by {lag:.0f}°, {asked:.0f}° are taught")
    return 0


def _to_dict(row: Beside, counts: float, period: float) -> dict[str, object]:
    import math

    known = math.isfinite(row.off)
    return {
        "hand": row.hand,
        "label": row.label,
        "taught": None if row.taught is None else round(row.taught, 4),
        "done": None if row.done is None else round(row.done.at, 4),
        "sd": None if row.done is None else round(row.done.sd, 4),
        "off_counts": round(row.off * counts, 4) if known else None,
        "off_ms": round(1000 * row.off * period, 2) if known else None,
    }
