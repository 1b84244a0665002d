"""The scorecard as plain values, its words among them."""

import json

from tempo_coach.report.words import card_to_dict
from tests.report.takes import MILLS, card, late


def test_the_complete_scorecard_has_words_and_a_sentence():
    plain = json.loads(json.dumps(card_to_dict(card(MILLS, late(MILLS, 10, 0.15))), allow_nan=False))
    assert plain["sentence"]
    words = [cycle["words"] for cycle in plain["cycles"] if cycle["flags"]]
    assert words
    assert all(words)
    assert all(not cycle["words"] for cycle in plain["cycles"] if not cycle["flags"])
