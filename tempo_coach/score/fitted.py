"""The scorecard of a take whose place on the take clock is only known as far as it fits the plan."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING

from tempo_coach.score.card import judge
from tempo_coach.score.findings import Finding

if TYPE_CHECKING:
    from tempo_coach.observe.onsets import Take
    from tempo_coach.score.scorecard import Scorecard

#: Findings that say where a take lies, which is what is not known.
OF_THE_PLACE = frozenset({"all_late", "all_early", "late_entry", "half_cycle_off"})
#: Findings that say what is missing or too many.
OF_MISSING = frozenset({"missed", "extra", "stopped"})
#: Confidence in the place under which nothing is said of missing moments and ends: they may be its doing.
SURE_OF_PLACE = 0.5


def judge_fitted(take: Take, *, confidence: float | None = None) -> Scorecard:
    """Judge a take that was put where it fits the plan best, so that its bias is none of its own.

    Parameters
    ----------
    take : Take
    confidence : float or None
        Of the fit, 0 to 1; None where the clock is known and only the place in the circle is not, as with a rotation
        sensor.

    Returns
    -------
    Scorecard
        Without a bias, eights and counts. Every other measure is free of a constant: spread, periods, drift, lags,
        missed and extra; the last two are not told where the fit is doubtful.
    """
    card = judge(take)
    if confidence is None:
        note = "the sensor shows the same place of every circle and not which one it is"
    else:
        note = f"the trace was put where it fits the plan best (confidence {confidence:.2f})"
    reason = f"{note}, so how early or late all of it was cannot be told"
    bias = card.measures["bias_ms"]
    measures = dict(card.measures)
    measures["bias_ms"] = bias._replace(value=math.nan, low=math.nan, high=math.nan, reason=bias.reason or reason)
    findings = tuple(found for found in card.findings if found.kind not in OF_THE_PLACE)
    cycles, missing_known = card.cycles, confidence is None or confidence >= SURE_OF_PLACE
    if not missing_known:
        findings = tuple(found for found in findings if found.kind not in OF_MISSING)
        cycles = tuple(
            replace(cycle, flags=tuple(flag for flag in cycle.flags if flag.kind not in OF_MISSING))
            for cycle in card.cycles
        )
    findings = findings or (Finding("even", confidence=card.findings[0].confidence),)
    parts = {by: each for by, each in card.parts.items() if by not in ("count", "eight")}
    notes = {**card.notes, "placing": reason}
    if not missing_known:
        notes["missed"] = "which moments are missing is not known as long as the place is not"
    return replace(
        card,
        measures=measures,
        cycles=cycles,
        findings=findings,
        parts=parts,
        placed=False,
        missing_known=missing_known,
        notes=notes,
    )
