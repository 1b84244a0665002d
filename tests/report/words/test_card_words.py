"""The scorecard as plain values, its words among them."""

import json
from dataclasses import replace

import numpy as np

from tempo_coach.report.words.card import card_to_dict, format_card
from tempo_coach.report.words.sentence import tell
from tempo_coach.score.measures.timekeeping import Measure
from tests.report.takes import MILLS, card, late


def test_the_complete_scorecard_has_words_and_a_sentence():
    plain = json.loads(json.dumps(card_to_dict(card(MILLS, late(MILLS, 10, 0.15))), allow_nan=False))
    assert plain["sentence"]
    words = [cycle["words"] for cycle in plain["cycles"] if cycle["flags"]]
    assert words
    assert all(words)
    assert all(not cycle["words"] for cycle in plain["cycles"] if not cycle["flags"])


def test_the_words_stand_beside_the_reasons_and_an_earlier_take_gives_praise():
    made = card(MILLS)
    worse = replace(made, asynchrony=np.where(MILLS.moments.cycle % 2, 0.05, -0.05))
    plain = card_to_dict(made, worse)
    assert list(plain)[-3:] == ["sentence", "reasons", "detail"]
    assert str(plain["sentence"]).startswith("Better: ") and plain["sentence"] == tell(made, worse)
    assert card_to_dict(made)["sentence"] == tell(made)
    assert {name: value for name, value in plain.items() if name != "sentence"} == {
        name: value for name, value in card_to_dict(made).items() if name != "sentence"
    }


def test_an_empty_take_has_a_sentence_and_reasons():
    plain = card_to_dict(card(MILLS, keep=[]))
    json.dumps(plain, allow_nan=False)
    assert str(plain["sentence"]).startswith("Nothing to tell") and plain["bias_ms"] is None and plain["reasons"]


def test_clock_and_movement_are_told_where_taps_without_cues_show_them():
    made = card(MILLS)
    split = {"clock_sd_ms": Measure(11.04, 30, 8.0, 15.0), "motor_sd_ms": Measure(0.0, 30, 0.0, 9.2)}
    told = format_card(replace(made, measures={**made.measures, **split}))
    assert "11.0 ms (between 8.0 and 15.0)" in told and "below 9.2 ms" in told
    assert max(map(len, told.splitlines())) <= 80
    assert "inner clock" not in format_card(made)
