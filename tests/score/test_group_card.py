"""The card of a group as plain values: every number under its name."""

import math

import pytest

from tempo_coach.score.group_card import Apart, GroupCard, Member, Pair
from tempo_coach.score.together import Exchange, Stretch, Throw

NAN = math.nan


def test_whole_card_as_plain_values():  # exact in binary
    card = GroupCard(
        members=(Member("Ada", 0.5, -0.25, 0.125, 7), Member("Bea", NAN, NAN, NAN, 0)),
        resultant=0.75,
        chance=NAN,
        sd=0.0625,
        width=0.375,
        apart=(Apart(2, 3.5, 0.625),),
        pairs=(Pair("Ada", "Bea", 0.5, 21, 0.25, 0.75, {-1: 0.25, 1: NAN}), Pair("Bea", "Ada", NAN, 3, NAN, NAN, {})),
        reasons={"pairs": "too few"},
        over_time=(Stretch(4, 0.875, 0.25, 0.5, 8),),
        exchanges=(Exchange(5, 1.5, 0.125, -0.125, 0.25, NAN, (Throw("Ada", "Bea", 1.5, 1.25),)),),
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
        "reasons": {"pairs": "too few"},
        "detail": {
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


@pytest.mark.parametrize(("low", "follows"), [(0.01, True), (0.0, False), (-0.1, False)])
def test_someone_follows_where_the_whole_interval_lies_above_nothing(low, follows):
    assert Pair("Ada", "Bea", 0.5, 30, low, 1 - low, {}).follows is follows
