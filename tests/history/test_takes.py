"""What is put into the history comes out of it the same."""

import json

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tempo_coach import coach
from tempo_coach.history.records import Wanted
from tempo_coach.history.takes import History
from tempo_coach.observe.take.onsets import Onsets, Take
from tempo_coach.pattern.plan.plan_file import plan_to_dict
from tempo_coach.report.words.card import card_to_dict
from tests.history.season import lay, make_take, put, said_of
from tests.refused import refused


@pytest.fixture
def history(tmp_path):
    with History(tmp_path / "history.sqlite") as history:
        yield history


def test_a_take_comes_back_whole(history):
    take = make_take(1)
    number = history.put(
        take,
        said_of(1),
        athlete="Ada",
        begun="2031-05-04T18:15:00+02:00",
        steady=True,
        routine="Spring",
        ended="passage",
        setup={"player": "invented"},
        note="warm hall",
    )
    kept = history.take(number)
    assert np.array_equal(kept.take.onsets.time, take.onsets.time)
    assert kept.take.onsets.hand == take.onsets.hand
    assert plan_to_dict(kept.take.plan) == plan_to_dict(take.plan)
    assert kept.card == json.loads(json.dumps(said_of(1)))
    assert [note.text for note in kept.notes] == ["warm hall"]
    assert kept.setup == {"player": "invented"}
    row = kept.row
    assert (row.athlete, row.drill, row.routine, row.day) == ("Ada", "clubs_mills", "Spring", "2031-05-04")
    assert row.tempo_bpm == pytest.approx(100)
    assert row.spread_ms == said_of(1)["spread_ms"]
    cues = {part["name"]: part for part in said_of(1)["detail"]["by"]["cues"]}
    assert row.without_cues_spread_ms == cues["without cues"]["spread_ms"]
    # judging what came back gives what was kept
    assert card_to_dict(coach.judge_take(kept.take)) == said_of(1)


@settings(max_examples=20)
@given(
    times=st.lists(st.floats(0, 60), max_size=30),
    gaps=st.lists(st.tuples(st.floats(0, 9), st.floats(10, 20)), max_size=2),
)
def test_any_onsets_come_back_to_the_last_bit(tmp_path_factory, times, gaps):
    take = Take(lay(), Onsets.unsorted(times, ["left"] * len(times)), unmeasurable=tuple(gaps))
    said = card_to_dict(coach.judge_take(take))
    with History(tmp_path_factory.mktemp("h") / "history.sqlite") as history:
        kept = history.take(history.put(take, said, athlete="Ada", begun="2031-01-01", steady=False))
    assert np.array_equal(kept.take.onsets.time, take.onsets.time)
    assert kept.take.unmeasurable == take.unmeasurable
    assert kept.card == said


def test_a_take_that_is_there_already_keeps_its_number(history):
    assert put(history, 1) == put(history, 1)
    assert put(history, 1, athlete="Bea") != put(history, 1)
    assert history.count() == (2, 2)


def test_a_drill_that_changes_later_changes_no_old_take(history):
    number = put(history, 1)
    put(history, 1, begun="2031-06-01")
    assert history.ask("SELECT count(*) FROM plan")[0][0] == 1  # takes of one plan share it
    other = lay(tempo_bpm=90)
    take = Take(other, Onsets(other.moments.time, other.moments.hand))
    history.put(take, card_to_dict(coach.judge_take(take)), athlete="Ada", begun="2031-06-02", steady=True)
    assert history.take(number).take.plan.tempo_bpm == 100
    assert history.ask("SELECT count(*) FROM plan")[0][0] == 2


def test_scoring_again_keeps_the_old_scorecard(history):
    number = put(history, 1)
    newer = {**said_of(1), "sentence": "Another sentence."}
    history.put_card(number, newer, steady=False, made="2031-06-01T10:00:00")
    kept = history.take(number)
    assert kept.card["sentence"] == kept.row.sentence == "Another sentence."
    assert (kept.older, kept.row.steady) == (1, False)
    assert [said["sentence"] for _, _, said in history.cards(number)] == [
        said_of(1)["sentence"],
        "Another sentence.",
    ]


def test_filters_hold_together(history):
    for seed, athlete, begun, routine in (
        (1, "Ada", "2031-05-01T10:00", "Spring"),
        (2, "Ada", "2031-05-02T23:59:59", None),
        (3, "Bea", "2031-05-03T10:00", "Spring"),
        (4, "Åsa", "2031-05-04T10:00", None),
    ):
        put(history, seed, athlete=athlete, begun=begun, routine=routine)

    def days(**wanted):
        return [row.day[-2:] for row in history.find(Wanted(**wanted))]

    assert days() == ["01", "02", "03", "04"]
    assert days(athlete="Ada") == ["01", "02"]
    assert days(routine="Spring") == ["01", "03"]
    assert days(routine="Spring", athlete="Bea") == ["03"]
    assert days(since="2031-05-02", until="2031-05-03") == ["02", "03"]
    assert days(until="2031-05-02") == ["01", "02"]
    assert days(last=2) == ["03", "04"]
    assert days(words="ÅSA mills") == ["04"]
    assert days(words="spring 05-03") == ["03"]
    assert days(drill="nothing") == []


@pytest.mark.parametrize(
    "name", ["O'Hara", 'the "quick" one', "Zoë", "李小龙", "🤸🏽‍♀️", "Robert'); DROP TABLE take;--", "%_", "a" * 200]
)
def test_any_name_is_a_name(history, name):
    number = put(history, 1, athlete=name)
    assert [row.number for row in history.find(Wanted(athlete=name))] == [number]
    assert [row.number for row in history.find(Wanted(words=name))] == [number]
    assert history.athletes()[0].name == name


def test_one_name_written_in_two_ways_is_one_athlete(history):
    put(history, 1, athlete="Zoë")
    put(history, 2, athlete="  Zoe\u0308 ")
    assert [(athlete.name, athlete.takes) for athlete in history.athletes()] == [("Zoë", 2)]


def test_who_or_what_is_not_there_is_said(history):
    put(history, 1, athlete="Adelina")
    with refused(r"no athlete 'Adelin' .*did you mean Adelina\?"):
        history.find(Wanted(athlete="Adelin"))
    for number in (7, -1, 10**30):
        with refused(f"there is no take {number}"):
            history.take(number)
    with refused("expected date and time"):
        put(history, 2, begun="yesterday")
    with refused("expected a note of 1 to 10000"):
        history.put_note(" ", written="2031-05-04", take=1)
    assert history.count() == (1, 1)


def test_nothing_of_a_take_is_kept_where_its_note_is_refused(history):
    with refused("expected a note"):
        put(history, 1, note="x" * 10_001)
    assert history.count() == (0, 0)


def test_notes_of_takes_and_of_athletes(history):
    number = put(history, 1)
    history.put_note("slept badly", written="2031-05-04T19:00", take=number)
    history.put_note("left-handed", written="2031-05-05T19:00", athlete="Ada")
    assert [note.text for note in history.notes(take=number)] == ["slept badly"]
    assert [(note.take, note.text) for note in history.notes(athlete="Ada")] == [
        (number, "slept badly"),
        (None, "left-handed"),
    ]
