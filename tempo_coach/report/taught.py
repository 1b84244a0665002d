"""What a drill teaches beside what a take shows, as lines and as plain values."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from tempo_coach.report.traced import say_place
from tempo_coach.score.learn import set_beside

if TYPE_CHECKING:
    from tempo_coach.pattern.practice import Drill
    from tempo_coach.score.learn import Beside
    from tempo_coach.score.study import Study


def comparison_to_dict(drill: Drill, found: Study) -> dict[str, object]:
    """Return as plain values where the moments of a drill are taught and where they were done.

    Parameters
    ----------
    drill : Drill
    found : Study
        Its first mover is set beside the drill's first hand.

    Returns
    -------
    dict
        Places are parts of the cycle, 0 to 1; null for what was not taught, not done, or cannot be told.
    """
    counts, period = drill.pattern.cycle_counts, _period(found)
    asked, lag = _lags(drill, found)
    return {
        "drill": drill.name,
        "cycle_counts": counts,
        "period_s": round(period, 6),
        "moments": [_row_to_dict(row, counts, period) for row in set_beside(drill.pattern, found)],
        "lag_asked_deg": None if math.isnan(asked) else asked,
        "lag_deg": None if math.isnan(lag) else round(lag, 4),
    }


def format_comparison(drill: Drill, found: Study) -> str:
    """Return the same as lines, in per cent of the cycle and in counts. See :func:`comparison_to_dict`."""
    counts = drill.pattern.cycle_counts
    asked, lag = _lags(drill, found)
    lines = [f"{drill.title}: {counts:g} counts; this take: cycles of {_period(found):.3f} s"]
    lines += [f"  {_say_row(row, counts)}" for row in set_beside(drill.pattern, found)]
    if not math.isnan(asked) and not math.isnan(lag):
        lines.append(f"  the second trails the first by {lag:.0f}°, {asked:.0f}° are taught")
    return "\n".join(lines)


def _period(found: Study) -> float:
    periods = found.main.cycles.periods
    return float(np.median(periods)) if periods.size else found.main.cycles.rhythm.period


def _lags(drill: Drill, found: Study) -> tuple[float, float]:
    """Lag of the second hand that is taught, and that was done; NaN where there is none."""
    hands = drill.pattern.hands
    asked = drill.pattern.asked_lags_deg(hands[1])[0] if len(hands) > 1 else math.nan
    return float(asked), found.lags[0].lag.degrees if found.lags else math.nan


def _say_row(row: Beside, counts: float) -> str:
    taught = "not asked for" if row.taught is None else f"{row.label}: taught at {round(100 * row.taught) % 100} %"
    if row.done is None:
        return f"{taught}, not done"
    done = f"done at {round(100 * row.done.at) % 100} % ± {100 * row.done.sd:.1f} ({say_place(row.done.at)})"
    late = "" if math.isnan(row.off) else f", {abs(row.off) * counts:.2f} counts {'late' if row.off > 0 else 'early'}"
    return f"{taught}, {done}{late}"


def _row_to_dict(row: Beside, counts: float, period: float) -> dict[str, object]:
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
