"""The scorecard as text: what stands on it, and that it keeps to its columns."""

from dataclasses import replace

import numpy as np
import pytest

from tempo_coach import coach
from tempo_coach.observe.onsets import Onsets, Take
from tempo_coach.report.text import format_card
from tempo_coach.score.card import judge
from tests.report.takes import MILLS, ROPE, card, late


def test_what_observing_adds_is_said_where_it_was_measured():
    tapped = card(MILLS, observed_by="tap")
    plain, measured = (" ".join(format_card(each).split()) for each in (tapped, replace(tapped, noise_floor_ms=1.5)))
    assert "observed by tap" in plain and "of its own" not in plain
    assert "observed by tap, which adds 1.5 ms of its own" in measured


@pytest.mark.parametrize("plan", [MILLS, ROPE])
def test_the_page_fits_80_columns_and_tells_by_word(plan):
    text = format_card(card(plan, late(plan, plan.moments.cycle > 4, 0.24)))
    assert max(len(line) for line in text.splitlines()) <= 80
    assert "LONG" in text
    assert plan.title in text
    assert "What broke:" in text
    assert text.isprintable() or "\n" in text


def test_a_long_take_shows_what_broke_and_not_every_cycle():
    plan = coach.lay(coach.Request("clubs_mills", tempo_bpm=100, cycles=200))
    text = format_card(card(plan, late(plan, 100, 0.2)))
    assert len(text.splitlines()) < 25
    assert "LATE" not in text
    assert "late" in text


def test_names_that_are_long_do_not_break_the_page():
    name = "left " * 30
    moments = MILLS.moments
    hands = tuple(name if hand == "left" else hand for hand in moments.hand)
    plan = replace(MILLS, title="mills " * 40, hands=("right", name), moments=replace(moments, hand=hands))
    text = format_card(card(plan, late(plan, 10, 0.15)))
    assert max(len(line) for line in text.splitlines()) <= 80


def test_what_was_not_done_at_all_is_one_line():
    text = format_card(card(MILLS, keep=range(12)))
    assert "cycles 7 to 16 were not done" in text
    assert "missed" not in text.split("What broke:")[1]


def test_an_empty_take_makes_a_page():
    text = format_card(judge(Take(MILLS, Onsets(np.array([]), ()))))
    assert "Nothing to tell" in text
    assert "0 of 32 moments" in text
