"""A trace beside what a drill teaches, in words and as plain values."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from tempo_coach.languages import in_english, tr
from tempo_coach.report.words.moments import say_label
from tempo_coach.report.words.trace import say_place
from tempo_coach.score.trace.learn import set_beside

if TYPE_CHECKING:
    from tempo_coach.pattern.drill.drill import Drill
    from tempo_coach.score.trace.learn import CirclePair
    from tempo_coach.score.trace.study import Study


#: What is said of a circle that the drill does not ask for.
_NOT_ASKED = "not asked for"


@in_english
def comparison_to_dict(drill: Drill, found: Study) -> dict[str, object]:
    """Return the taught and the actual phases of a drill's moments as plain values.

    Parameters
    ----------
    found : Study
        Its first body is set beside the drill's first hand.

    Returns
    -------
    dict
        Places are parts of the cycle, 0 to 1; null for what was not taught, not done, or cannot be told.
    """
    counts, period = drill.pattern.cycle_counts, _median_period(found)
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
    lines = [
        tr(
            "{title}: {counts:g} counts; this take: cycles of {median_period:.3f} s",
            title=tr(drill.title),
            counts=counts,
            median_period=_median_period(found),
        )
    ]
    lines += [f"  {_say_row(row, counts)}" for row in set_beside(drill.pattern, found)]
    if not math.isnan(asked) and not math.isnan(lag):
        told = tr("the second trails the first by {lag:.0f}°, {asked:.0f}° are taught", lag=lag, asked=asked)
        lines.append(f"  {told}")
    return "\n".join(lines)


def _median_period(found: Study) -> float:
    periods = found.main.cycles.periods
    return float(np.median(periods)) if periods.size else found.main.cycles.rhythm.period


def _lags(drill: Drill, found: Study) -> tuple[float, float]:
    """Return the taught and the actual lag of the second hand; NaN without one."""
    hands = drill.pattern.hands
    asked = drill.pattern.asked_lags_deg(hands[1])[0] if len(hands) > 1 else math.nan
    return float(asked), found.lags[0].lag.degrees if found.lags else math.nan


def _say_row(row: CirclePair, counts: float) -> str:
    taught = (
        tr(_NOT_ASKED)
        if row.taught is None
        else tr("{label}: taught at {taught} %", label=say_label(row.label), taught=round(100 * row.taught) % 100)
    )
    if row.done is None:
        return tr("{taught}, not done", taught=taught)
    done = tr(
        "done at {at} % ± {sd:.1f} ({place})",
        at=round(100 * row.done.at) % 100,
        sd=100 * row.done.sd,
        place=say_place(row.done.at),
    )
    late = (
        ""
        if math.isnan(row.off)
        else tr(
            "{off:.2f} counts late" if row.off > 0 else "{off:.2f} counts early",
            off=abs(row.off) * counts,
        )
    )
    return ", ".join(filter(None, (taught, done, late)))


def _row_to_dict(row: CirclePair, counts: float, period: float) -> dict[str, object]:
    known = math.isfinite(row.off)
    return {
        "hand": row.hand,
        "label": row.label or _NOT_ASKED,
        "taught": None if row.taught is None else round(row.taught, 4),
        "done": None if row.done is None else round(row.done.at, 4),
        "sd": None if row.done is None else round(row.done.sd, 4),
        "off_counts": round(row.off * counts, 4) if known else None,
        "off_ms": round(1000 * row.off * period, 2) if known else None,
    }
