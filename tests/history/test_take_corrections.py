"""Corrections: done whole, followed by everything, undone whole."""

from __future__ import annotations

import pytest

from tempo_coach import coach
from tempo_coach.errors import CoachError
from tempo_coach.history import take_corrections as corrections
from tempo_coach.history.forget import find_going, forget
from tempo_coach.history.records import Wanted
from tempo_coach.history.takes import History
from tempo_coach.report.words.card import card_to_dict
from tests.history.season import make_take, put
from tests.refused import refused

MADE = "2031-06-01T09:00:00"
TABLES = ("athlete", "take", "onsets", "card", "note", "plan", "gone")


@pytest.fixture
def history(tmp_path):
    with History(tmp_path / "history.sqlite") as opened:
        for seed in range(1, 4):
            put(opened, seed, begun=f"2031-05-0{seed}", note=f"note {seed}")
        yield opened


def content(history):
    """Everything of all takes, by what it says and not by the numbers of rows."""
    rows = {}
    for each in history.find():
        kept = history.take(each.number)
        cards = history.cards(each.number)
        onsets = kept.take.onsets.time.tolist(), kept.take.onsets.hand
        rows[each.number] = (each, kept.card, cards, kept.notes, kept.take.plan.drill, onsets, kept.setup)
    return repr(rows)


def other_plan(history, number):
    take = make_take(number, drill="rope_figure_eight")
    said = card_to_dict(coach.judge_take(take))
    corrections.put_plan(history, number, take, said, steady=False, kind="drill", made=MADE)


WAYS = {
    "move": lambda history: corrections.move(history, 2, to="Bea", made=MADE),
    "counting": lambda history: corrections.set_counting(history, 2, reason="fell", made=MADE),
    "remove": lambda history: corrections.remove(history, 2, made=MADE),
    "drill": lambda history: other_plan(history, 2),
    "note": lambda history: corrections.change_note(history, 2, "otherwise", made=MADE),
}


@pytest.mark.parametrize("kind", WAYS)
def test_each_is_undone_whole(history, kind):
    before = content(history)
    WAYS[kind](history)
    assert content(history) != before
    assert corrections.find_last(history) == (2, "Ada", MADE, kind)
    assert corrections.undo(history).take == 2
    assert content(history) == before
    assert history.ask("SELECT count(*) FROM gone")[0][0] == 0
    history.check()
    with refused("no correction to undo"):
        corrections.undo(history)


def test_nobody_is_left_of_whom_only_an_undone_correction_knew(history):
    corrections.move(history, 2, to="Bea", made=MADE)
    corrections.undo(history)
    assert [each.name for each in history.athletes()] == ["Ada"]
    put(history, 9, athlete="Bea", begun="2031-05-09")
    corrections.move(history, 2, to="Bea", made=MADE)
    corrections.undo(history)
    assert [each.name for each in history.athletes()] == ["Ada", "Bea"]


@pytest.mark.parametrize("kind", WAYS)
def test_what_cannot_be_done_changes_nothing(history, kind):
    before = content(history)
    bad = {
        "move": lambda: corrections.move(history, 2, to="  Ada ", made=MADE),
        "counting": lambda: corrections.set_counting(history, 2, reason=" ", made=MADE),
        "remove": lambda: corrections.remove(history, 9, made=MADE),
        "drill": lambda: other_plan(history, 9),
        "note": lambda: corrections.change_note(history, 2, "x" * 10_001, made=MADE),
    }[kind]
    with pytest.raises(CoachError):
        bad()
    assert content(history) == before and corrections.find_last(history) is None


def test_everything_derived_follows(history):
    corrections.move(history, 1, to="Bea", made=MADE)
    assert [row.number for row in history.find(Wanted(athlete="Bea"))] == [1]
    assert [note.text for note in history.notes(athlete="Bea")] == ["note 1"]
    corrections.set_counting(history, 2, reason="fell", made=MADE)
    assert [row.number for row in history.find(Wanted(athlete="Ada", counting=True))] == [3]
    assert history.row(2).reason == "fell"
    corrections.set_counting(history, 2, reason=None, made=MADE)
    assert history.row(2).reason == ""
    other_plan(history, 3)
    kept = history.take(3)
    assert (kept.row.drill, kept.take.plan.drill, kept.older) == ("rope_figure_eight", "rope_figure_eight", 1)
    assert kept.row.cues == "thinning"


def test_a_number_that_another_take_has_had_since_is_left_to_it(history):
    corrections.remove(history, 3, made=MADE)
    new = put(history, 7, begun="2031-05-07")
    assert new == 3
    back = corrections.undo(history)
    assert back.take == 4
    assert history.row(3).begun[:10] == "2031-05-07" and history.row(4).begun[:10] == "2031-05-03"
    assert len(history.find()) == 4


def test_a_take_that_she_has_already_is_not_given_to_her(history):
    with History(history.path) as same:
        put(same, 1, begun="2031-05-01", athlete="Bea")
    with refused("Bea has this take already, as take 4"):
        corrections.move(history, 1, to="Bea", made=MADE)


@pytest.mark.parametrize("who", ["Ada", "Bea"])
def test_nothing_of_a_correction_outlives_whoever_is_forgotten(history, who):
    corrections.move(history, 1, to="Bea", made=MADE)
    forget(history, find_going(history, who))
    assert corrections.find_last(history) is None
