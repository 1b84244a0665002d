"""Scorecards as plain values: every number under its name, in ms and degrees; exact in binary."""

import math

import numpy as np
import pytest

from tempo_coach import coach
from tempo_coach.reasons import Reason, Why
from tempo_coach.score.group.card import Apart, GroupCard, Left, Member, Pair
from tempo_coach.score.group.together import EightSynchrony, Exchange, PartnerThrow
from tempo_coach.score.measures.parts import Part
from tempo_coach.score.measures.phase import Lag
from tempo_coach.score.measures.timekeeping import MEASURES, Measure
from tempo_coach.score.scorecard import CycleCard, Flag, LagCard, LagChances, Scorecard

NAN = math.nan
KEYS = tuple(entry.key for entry in MEASURES)
PLAN = coach.lay(coach.Request("rope_figure_eight", tempo_bpm=100, cycles=4))


def card(**changed):
    values = {
        "plan": PLAN,
        "observed_by": "tap",
        "noise_floor_ms": 4.5,
        "measures": {name: Measure(k + 0.5, k, k + 0.25, k + 0.75) for k, name in enumerate(KEYS)},
        "cycles": (),
        "lags": (),
        "parts": {},
        "asynchrony": np.full(len(PLAN.moments), NAN),
        "missed": np.array([1]),
        "extra_time": np.array([]),
        "extra_hand": (),
    }
    return Scorecard(**{**values, **changed})


def test_single_numbers_in_their_order():
    plain = card().to_dict()
    numbers = [(name, plain[name]) for name in plain if name in KEYS]
    assert numbers == [(name, k + 0.5) for k, name in enumerate(KEYS)]
    assert plain["n"] == 0
    assert list(plain) == [
        *("bias_ms", "spread_ms", "n", *KEYS[2:-6], "cycles", "lags", *KEYS[-6:-1], "missed", "extra"),
        *("missed_moments", "extra_onsets", "f_measure", "findings", "observed_by", "noise_floor_ms"),
        *("reasons", "detail"),
    ]
    assert plain["detail"]["n"] == {name: k for k, name in enumerate(KEYS)}
    drift = KEYS.index("drift_pct_per_cycle")
    assert plain["detail"]["ci95"]["drift_pct_per_cycle"] == [drift + 0.25, drift + 0.75]
    assert (plain["observed_by"], plain["noise_floor_ms"], plain["missed"], plain["extra"]) == ("tap", 4.5, 1, 0)


@pytest.mark.parametrize("value", [NAN, math.inf, -math.inf])
def test_what_is_no_number_is_null(value):
    measures = {**card().measures, "spread_ms": Measure(value, 1, reason=Reason(Why.FEW_PERIODS, (5, 3)))}
    plain = card(measures=measures, noise_floor_ms=value).to_dict()
    assert plain["spread_ms"] is None and plain["detail"]["ci95"]["spread_ms"] is None
    assert plain["noise_floor_ms"] is None
    assert plain["reasons"]["spread_ms"] == {"code": "few_periods", "args": [5, 3]}


def test_cycle():
    flags = (Flag("long"), Flag("late", "high 1", 0.25))
    one = CycleCard(
        2, 3, 1.5, "left", 0.5, 1.25, ("low", "high 1"), ("circle",) * 2, (4.0, 5.0), (0.125, NAN), flags, 2.5
    )
    whole = CycleCard(3, 3, 5.5, "left", NAN, NAN, (), (), (), ())
    made = card(cycles=(one, whole))
    assert made.flagged == (one,)
    assert made.to_dict()["cycles"][0] == {
        "cycle": 2,
        "eight": 3,
        "count": 1.5,
        "hand": "left",
        "period_ms": 500,
        "period_ratio": 1.25,
        "moments": [{"label": "low", "async_ms": 125}, {"label": "high 1", "async_ms": None}],
        "time": 2.5,
        "flags": ["long", "late: high 1"],
    }
    assert made.to_dict()["cycles"][1]["period_ms"] is None


@pytest.mark.parametrize(("n", "sd", "resultant"), [(2, 8.5, 0.75), (1, None, None)])
def test_lag(n, sd, resultant):
    lag = Lag(92.5, 2.5, 0.125, 8.5, 0.75, n, 4.25)
    made = card(lags=(LagCard("left", "right", "low", 90.0, lag, LagChances(0.5, NAN, 0.25)),))
    of_it = {"of": "left", "to": "right", "label": "low"}
    assert made.to_dict()["detail"]["lag_tests"] == [of_it | {"rayleigh_p": 0.5, "v_p": None, "without_cue_p": 0.25}]
    assert made.to_dict()["lags"] == [
        {
            "of": "left",
            "to": "right",
            "label": "low",
            "asked_deg": 90,
            "deg": 92.5,
            "error_deg": 2.5,
            "ms": 125,
            "sd_deg": sd,
            "R": resultant,
            "n": n,
            "ci95_deg": [88.25, 96.75],
        }
    ]


def test_lag_without_an_interval():
    lag = LagCard("left", "right", "low", NAN, Lag(90, NAN, 0.5, 0, 1, 2, NAN), LagChances())
    (plain,) = card(lags=(lag,)).to_dict()["lags"]
    assert plain["ci95_deg"] is plain["asked_deg"] is plain["error_deg"] is None


def test_part():
    parts = {"hand": (Part("left", 0.125, 0.25, 7, 0.0625, 0.1875), Part("right", NAN, NAN, 0, NAN, NAN))}
    assert card(parts=parts).to_dict()["detail"]["by"] == {
        "hand": [
            {"name": "left", "bias_ms": 125, "spread_ms": 250, "n": 7, "ci95_ms": [62.5, 187.5]},
            {"name": "right", "bias_ms": None, "spread_ms": None, "n": 0, "ci95_ms": None},
        ]
    }


def test_missed_and_extra_are_told_with_their_place():
    moments = PLAN.moments
    k = 4  # in the second cycle
    between = float(moments.time[k] + moments.time[k + 1]) / 2
    plain = card(missed=np.array([k]), extra_time=np.array([between]), extra_hand=("right",)).to_dict()
    place = PLAN.place(float(moments.count[k]))
    assert plain["missed_moments"] == [
        {
            "time": moments.time[k],
            "cycle": 1,
            "hand": moments.hand[k],
            "label": moments.label[k],
            "eight": place.eight,
            "count": place.count,
        }
    ]
    middle = PLAN.place(float(moments.count[k] + moments.count[k + 1]) / 2)
    (extra,) = plain["extra_onsets"]
    assert (extra["time"], extra["hand"], extra["eight"]) == (between, "right", middle.eight)
    assert extra["count"] == pytest.approx(middle.count)
    assert set(extra) == {"time", "hand", "eight", "count"}


def test_whole_card_of_a_group():  # exact in binary
    card = GroupCard(
        members=(Member("Ada", 0.5, -0.25, 0.125, 7, 0.0625), Member("Bea", NAN, NAN, NAN, 0)),
        resultant=0.75,
        chance=NAN,
        sd=0.0625,
        width=0.375,
        apart=(Apart(2, 3.5, 0.625),),
        pairs=(
            Pair("Ada", "Bea", 0.5, 21, 0.25, 0.75, {-1: 0.25, 1: NAN}, True),
            Pair("Bea", "Ada", NAN, 3, NAN, NAN, {}, None),
        ),
        reasons={"pairs": Reason(Why.NO_FOLLOWING)},
        over_time=(EightSynchrony(4, 0.875, 0.25, 0.5, 8),),
        exchanges=(Exchange(5, 1.5, 0.125, -0.125, 0.25, NAN, (PartnerThrow("Ada", "Bea", 1.5, 1.25),)),),
        left=(Left("Ada", 3, 2.0, 4, 1.5, 0.25, 0.125, False, 8), Left("Bea", 1, 1.0, 1, 4.0, NAN, NAN, False, 4)),
        canon={"Bea": 4},
    )
    assert card.to_dict() == {
        "members": [
            {"member": "Ada", "bias_ms": 500, "offset_ms": -250, "spread_ms": 125, "n": 7},
            {"member": "Bea", "bias_ms": None, "offset_ms": None, "spread_ms": None, "n": 0},
        ],
        "group_r": 0.75,
        "group_r_chance": None,
        "group_sd_ms": 62.5,
        "group_range_ms": 375,
        "apart": [{"eight": 2, "count": 3.5, "range_ms": 625}],
        "pairs": [
            {"a": "Ada", "b": "Bea", "follows": True, "gain": 0.5, "n": 21, "ci95": [0.25, 0.75]},
            {"a": "Bea", "b": "Ada", "follows": None, "gain": None, "n": 3, "ci95": None},
        ],
        "left": [
            {
                "member": "Ada",
                "from": {"eight": 3, "count": 2.0},
                "to": {"eight": 4, "count": 1.5},
                "offset_ms": 250,
                "spread_ms": 125,
                "uneven": False,
                "n": 8,
            },
            {
                "member": "Bea",
                "from": {"eight": 1, "count": 1.0},
                "to": {"eight": 1, "count": 4.0},
                "offset_ms": None,
                "spread_ms": None,
                "uneven": False,
                "n": 4,
            },
        ],
        "canon": [{"member": "Bea", "counts": 4}],
        "reasons": {"pairs": {"code": "no_following", "args": []}},
        "detail": {
            "usual_ms": {"Ada": 62.5, "Bea": None},
            "observed": [
                {"member": name, "observed_by": "file", "noise_floor_ms": None, "unsure_ms": 0.0}
                for name in ("Ada", "Bea")
            ],
            "by_eight": [],
            "wandered": [],
            "sides": None,
            "left": [
                {"member": "Ada", "others_range_ms": None, "back": True},
                {"member": "Bea", "others_range_ms": None, "back": True},
            ],
            "pairs": [{"a": "Ada", "b": "Bea", "correlation": {"-1": 0.25, "1": None}}],
            "over_time": [{"eight": 4, "group_r": 0.875, "sd_ms": 250, "range_ms": 500, "n": 8}],
            "exchanges": [
                {
                    "eight": 5,
                    "count": 1.5,
                    "release_async_ms": 125,
                    "release_range_ms": 250,
                    "catch_async_ms": -125,
                    "catch_range_ms": None,
                    "throws": [{"from": "Ada", "to": "Bea", "flight_ms": 1500, "asked_ms": 1250}],
                }
            ],
        },
    }
