"""Takes judged again on another drill or eight, on what was heard."""

from __future__ import annotations

import numpy as np
import pytest

from tempo_coach import coach
from tempo_coach.coach.correcting import correct_drill, correct_eight
from tempo_coach.history.take_corrections import undo
from tempo_coach.history.takes import History
from tempo_coach.observe.take.onsets import Onsets, Take
from tempo_coach.report.words.card import card_to_dict
from tests.refused import refused

MADE = "2031-06-01T09:00:00"


def perform(plan, spread=0.004):
    times = plan.moments.time + np.random.default_rng(1).normal(0, spread, len(plan.moments))
    return Onsets.unsorted(times.tolist(), plan.moments.hand)


@pytest.fixture
def history(tmp_path):
    """A take of the drill with two circles that was kept as one of the drill with three."""
    with History(tmp_path / "history.sqlite") as opened:
        wrong = coach.lay(coach.Request("clubs_mills_three", tempo_bpm=100, cycles=8))
        done = coach.lay(coach.Request("clubs_mills_two", tempo_bpm=100, cycles=12))
        take = Take(wrong, perform(done), observed_by="tap")
        opened.put(take, card_to_dict(coach.judge_take(take)), athlete="Ada", begun="2031-05-04", steady=False)
        yield opened


def test_the_right_drill_is_judged_on_the_counts_that_were_heard(history):
    before = history.take(1)
    correct_drill(history, 1, "clubs_mills_two", made=MADE)
    kept = history.take(1)
    right = coach.lay(coach.Request("clubs_mills_two", tempo_bpm=100, cycles=12))
    assert kept.row.drill == "clubs_mills_two" and kept.row.cycles == 12
    np.testing.assert_allclose(kept.take.plan.moments.time, right.moments.time, atol=1e-9)
    assert kept.card["missed"] == kept.card["extra"] == 0 and kept.row.spread_ms < 8
    assert kept.take.plan.cues.time.tolist() == before.take.plan.cues.time.tolist()  # what was played
    assert kept.older == 1
    undo(history)
    assert history.take(1).card == before.card and history.row(1).drill == "clubs_mills_three"


def test_hands_that_the_drill_does_not_have_are_its_own(history):
    correct_drill(history, 1, "rope_skips_single", made=MADE)
    kept = history.take(1)
    assert set(kept.take.onsets.hand) == {"rope"} and kept.row.drill == "rope_skips_single"


def test_the_right_eight_is_told(history):
    correct_eight(history, 1, 5, made=MADE)
    plan = history.take(1).take.plan
    assert plan.eights[0].number == 5 and plan.place(plan.first_count).eight == 5
    assert all(cycle["eight"] is None or cycle["eight"] >= 5 for cycle in history.take(1).card["cycles"])


@pytest.mark.parametrize(("drill", "why"), [("clubs_mils", "did you mean"), ("/none.toml", "no such")])
def test_a_drill_that_is_none_changes_nothing(history, drill, why):
    before = history.take(1).card
    with refused(why):
        correct_drill(history, 1, drill, made=MADE)
    with refused("eight from 1 on"):
        correct_eight(history, 1, 0, made=MADE)
    assert history.take(1).card == before


def test_a_take_too_short_for_one_cycle_is_refused(tmp_path):
    with History(tmp_path / "history.sqlite") as history:
        plan = coach.lay(coach.Request("clubs_mills", tempo_bpm=100, cycles=2))
        take = Take(plan, perform(plan), observed_by="tap")
        history.put(take, card_to_dict(coach.judge_take(take)), athlete="Ada", begun="2031-05-04", steady=False)
        with refused("no whole cycle of 8 counts"):
            correct_drill(history, 1, "ball_figure_eight", made=MADE)
