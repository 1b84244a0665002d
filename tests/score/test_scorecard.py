"""What a scorecard says of itself: why something is null, and which cycles broke."""

import math

from tempo_coach.reasons import Reason, Why
from tempo_coach.score.faults.findings import Finding
from tempo_coach.score.measures.phase import Lag
from tempo_coach.score.measures.timekeeping import Measure
from tempo_coach.score.scorecard import CycleCard, Flag, LagCard, LagChances, is_flagged
from tests.score.test_plain_values import NAN, card


def test_reasons():
    assert card().reasons == {"lags": Reason(Why.NO_LAGS)}
    lag = LagCard("left", "right", "low", NAN, Lag(NAN, NAN, NAN, NAN, NAN, 0, NAN), LagChances())
    assert card(lags=(lag,), notes={"moments": Reason(Why.NO_MOMENTS)}).reasons == {"moments": Reason(Why.NO_MOMENTS)}
    assert card(lags=(lag,), noise_floor_ms=NAN).reasons == {"noise_floor_ms": Reason(Why.FLOOR_NOT_MEASURED, ("tap",))}


def test_measures_without_a_value_say_why():
    measures = {
        **card().measures,
        "spread_ms": Measure(NAN, 1, reason=Reason(Why.ONE_PAIR)),
        "bias_ms": Measure(2.0, 1),
    }
    made = card(measures=measures, lags=(), notes={"lags": Reason(Why.NO_MOMENTS)})
    assert made.reasons == {"spread_ms": Reason(Why.ONE_PAIR), "lags": Reason(Why.NO_MOMENTS)}
    assert made.value("bias_ms") == 2 and math.isnan(made.value("spread_ms"))


def test_cycles_that_broke_and_what_is_said_of_them():
    good, long, late = (
        CycleCard(k, 1, 1.0, "left", 0.5, 1.0, ("low",), ("circle",), (0.0,), (0.0,), flags)
        for k, flags in enumerate([(), (Flag("long", by=0.2),), (Flag("late", "low", 0.1), Flag("extra"))])
    )
    assert card(cycles=(good, long, late)).flagged == (long, late)
    assert [str(flag) for flag in (*long.flags, *late.flags)] == ["long", "late: low", "extra"]


def test_findings_that_are_doubtful_are_not_told_and_only_those_of_a_cycle_flag_it():
    sure, doubtful = Finding("late", 2, confidence=0.9), Finding("long", 3, confidence=0.05)
    assert card(findings=(sure, doubtful)).told == (sure,)
    assert is_flagged("late") and is_flagged("slipped") and not is_flagged("drift")
    assert not Flag("late").of_one_hand
