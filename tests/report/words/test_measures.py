"""Measures in words: every name of the JSON has a meaning, and values are said as the registry has it."""

import math

import pytest

from tempo_coach.report.words.card import card_to_dict, format_card
from tempo_coach.report.words.measures import ENTRIES, MEANINGS, WORDS, MeasureWords, labelled, say_number
from tests.report.takes import MILLS, card


def test_every_name_of_a_scorecard_has_one_meaning():
    names = [name for group, _ in MEANINGS for name in group]
    assert len(names) == len(set(names))
    assert set(names) == set(card_to_dict(card(MILLS)))


def test_words_are_of_measures_and_stand_where_they_have_a_label():
    assert set(WORDS) <= set(ENTRIES)
    for where in MeasureWords._fields:
        assert [entry.key for entry, _ in labelled(where)] == [
            key for key in ENTRIES if getattr(WORDS.get(key), where, "")
        ]
    made = card(MILLS)
    text = format_card(made)
    assert all((f"\n{label} " in text) is not math.isnan(made.value(entry.key)) for entry, label in labelled("card"))


@pytest.mark.parametrize(
    ("key", "value", "said"),
    [
        ("bias_ms", -12.6, "-13 ms"),
        ("bias_ms", -0.4, "+0 ms"),
        ("spread_ms", 7.52, "8 ms"),
        ("drift_pct_per_cycle", 0.034, "+0.03 %"),
        ("f_measure", 0.98765, "0.988"),
        ("period_cv_pct", math.nan, ""),
    ],
)
def test_values_have_their_digits_sign_and_unit(key, value, said):
    assert say_number(ENTRIES[key], value) == said
