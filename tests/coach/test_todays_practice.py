"""Today's practice from the history, the people's files and the drills: kept, changed, gone on with."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest

from tempo_coach.coach import lay
from tempo_coach.coach.athletes import find_name, list_names
from tempo_coach.coach.goals import drop_goal, judge_goals, set_goal
from tempo_coach.coach.todays_practice import (
    change_drill,
    change_tempo,
    open_group,
    open_today,
    request_of,
    settle,
)
from tempo_coach.errors import CoachError
from tempo_coach.history.forget import find_going, forget
from tempo_coach.history.planner import LENGTHS, SessionPart
from tempo_coach.history.roster import Person, find_person, people_folder, save_person
from tempo_coach.history.season import Goal, Outlook
from tempo_coach.history.session_record import DONE, SKIPPED, session_file
from tempo_coach.history.takes import History
from tests.history.season import make_take, put, said_of
from tests.refused import refused

DAY = date(2031, 5, 20)


@pytest.fixture
def file(tmp_path, monkeypatch):
    monkeypatch.setattr("tempo_coach.history.data_folder.data_folder", lambda: tmp_path / "data")
    path = tmp_path / "history.sqlite"
    with History(path) as history:
        for ago in range(1, 9):
            begun = f"{DAY - timedelta(days=ago)}T18:00:00"
            put(history, ago, begun=begun)
            other = make_take(ago, drill="rope_figure_eight", spread=0.06)
            history.put(other, said_of(3), athlete="Ada", begun=begun, steady=False)
    return path


def test_it_is_made_of_what_she_has_done_and_is_there_again(file):
    today = open_today(file, "Ada", day=DAY, minutes=10)
    assert set(today.drills) == {"clubs_mills", "rope_figure_eight"}
    assert today.record.items[0].part is SessionPart.WARM_UP
    today = settle(settle(today, 0, DONE), 1, SKIPPED)
    again = open_today(file, "Ada", day=DAY)
    assert again.record == today.record and again.record.next == 2
    assert find_person(people_folder(file), "Ada").minutes == 10  # asked once
    tomorrow = open_today(file, "Ada", day=DAY + timedelta(days=1))
    assert tomorrow.record.minutes == 10 and tomorrow.record.next == 0
    anew = open_today(file, "Ada", day=DAY + timedelta(days=1), anew=True)
    assert anew.record.items == tomorrow.record.items


def test_whoever_is_new_gets_drills_of_her_apparatus_and_nothing_is_asked(file):
    save_person(people_folder(file), Person("Bea", apparatus=("rope",)))
    assert {drill.apparatus for drill in open_today(file, "Bea", day=DAY).drills.values()} == {"rope"}
    nobody = open_today(file.with_name("none.sqlite"), "me", day=DAY, keep=False)
    assert len(nobody.drills) == 3 and not file.with_name("none.sqlite").exists()


def test_whoever_has_done_one_drill_gets_others_beside_it_and_nothing_to_throw(file, tmp_path):
    with History(tmp_path / "one.sqlite") as history:
        put(history, begun=f"{DAY - timedelta(days=1)}T18:00:00", athlete="Eva")
    drills = open_today(tmp_path / "one.sqlite", "Eva", day=DAY).drills
    assert len(drills) == 3 and "clubs_mills" in drills and {drill.apparatus for drill in drills.values()} == {"clubs"}
    moments = [m.kind for drill in drills.values() for hand in drill.pattern.hands for m in hand.moments]
    assert "release" not in moments
    save_person(people_folder(file), Person("Ada", drills=("clubs_mills",)))
    assert list(open_today(file, "Ada", day=DAY).drills) == ["clubs_mills"]  # chosen so


def test_how_long_a_session_is_is_asked_once(file):
    assert open_today(file, "Ada", day=DAY).asks
    assert not open_today(file, "Ada", day=DAY).asks
    assert not open_today(file, "Bea", day=DAY, minutes=10).asks


def test_a_name_is_meant_by_its_first_letters(file):
    assert find_name(file, "ad") == find_name(file, None) == "Ada"
    assert find_name(file, "Mia") == "Mia"


def test_an_item_is_changed_and_practised_as_it_says(file):
    today = open_today(file, "Ada", day=DAY)
    place = today.record.next
    faster = change_tempo(today, place, 4)
    assert faster.record.items[place].tempo_bpm == today.record.items[place].tempo_bpm + 4
    for _ in range(40):
        faster = change_tempo(faster, place, 4)
    item = faster.record.items[place]
    assert item.tempo_bpm == faster.drills[item.drill].practice.tempi_bpm[1]
    other = change_drill(faster, place)
    assert other.record.items[place].drill != item.drill
    assert open_today(file, "Ada", day=DAY).record == other.record
    request = request_of(today, 0)
    plan = lay(request)
    assert plan.tempo_bpm == today.record.items[0].tempo_bpm and plan.cue_way == "all"
    assert plan.allowance == pytest.approx(2 * today.drills[request.drill].allowance)


def test_later_blocks_follow_what_was_just_done_and_what_was_changed_by_hand_stays(file):
    today = open_today(file, "Ada", day=DAY, minutes=20)
    drill = today.record.items[1].drill
    of_it = [k for k, item in enumerate(today.record.items) if item.drill == drill and item.part is SessionPart.BLOCK]
    with History(file) as history:
        for second in range(2):
            take = make_take(second, drill=drill, tempo_bpm=today.record.items[1].tempo_bpm, cues="all")
            begun = f"{DAY}T18:00:0{second}"
            history.put(take, {**said_of(3), "tempo_bpm": 100}, athlete="Ada", begun=begun, steady=True)
    before = [today.record.items[k] for k in of_it]
    after = settle(today, of_it[0], DONE)
    followed = [after.record.items[k] for k in of_it[1:]]
    assert before[1].cues == "all" and {item.cues for item in followed} == {"alternate"}
    assert open_today(file, "Ada", day=DAY).record == after.record
    assert after.record.items[0] == today.record.items[0] and after.record.items[-1] == today.record.items[-1]
    slower = change_tempo(today, of_it[0], -4)
    assert {slower.record.items[k].tempo_bpm for k in of_it} == {before[0].tempo_bpm - 4}
    own = change_tempo(today, of_it[-1], -8)
    assert settle(own, of_it[0], DONE).record.items[of_it[-1]] == own.record.items[of_it[-1]]


def test_what_she_chose_in_the_set_up_goes_for_today_as_well(file):
    assert not request_of(open_today(file, "Ada", day=DAY), 0).spoken
    save_person(people_folder(file), Person("Ada", hand="left", chosen={"counts": "spoken"}))
    request = request_of(open_today(file, "Ada", day=DAY), 0)
    assert request.spoken and request.mirrored


@pytest.mark.parametrize("minutes", [0, -1, 15, 1000])
def test_no_time_for_a_session_is_a_sentence(file, minutes):
    with refused("a session has 10, 20 or 40 minutes"):
        open_today(file, "Ada", day=DAY, minutes=minutes)
    assert open_today(file, "Ada", day=DAY, minutes=LENGTHS[0]).record.items


@pytest.mark.parametrize(
    "text", ["", "{", "[]", '{"day": 1}', '{"day": "2031-05-20", "minutes": 20, "items": [{}], "states": []}']
)
def test_a_damaged_session_is_told_and_left(file, text):
    open_today(file, "Ada", day=DAY)
    path = session_file(people_folder(file), "Ada")
    path.write_text(text)
    with refused("expected a session, found something else"):
        open_today(file, "Ada", day=DAY)
    assert path.read_text() == text


def test_everything_of_somebody_goes_with_her(file):
    open_today(file, "Ada", day=DAY)
    folder = people_folder(file)
    assert len(list(folder.iterdir())) == 2
    with History(file) as history:
        forget(history, find_going(history, "Ada"))
    assert list(folder.iterdir()) == []


def test_a_group_has_up_to_twelve_lists_and_nothing_is_written(file):
    names = ["Ada", *(f"N{k}" for k in range(11))]
    assert len(open_group(file, names, day=DAY, minutes=10)) == 12
    assert not people_folder(file).exists()
    for wrong in ([], [*names, "one more"], ["Ada", "Ada"]):
        with pytest.raises(CoachError):
            open_group(file, wrong, day=DAY)


def test_whoever_practised_last_is_first(file):
    assert list_names(file) == ("Ada",)
    save_person(people_folder(file), Person("Bea", used="2031-05-19"))
    assert list_names(file) == ("Bea", "Ada")
    assert list_names(file.with_name("none.sqlite")) == ("Bea",)


def test_goals_are_kept_and_judged_and_over(file):
    goal = Goal("clubs_mills", DAY + timedelta(days=30), 100.0, "ones")
    set_goal(file, "Ada", goal, day=DAY)
    (told,) = judge_goals(file, "Ada", day=DAY)
    assert told.goal == goal and told.verdict.outlook is Outlook.ON_THE_WAY and len(told.weeks) == 5
    with refused("expected a day to come"):
        set_goal(file, "Ada", replace(goal, on=DAY - timedelta(days=1)), day=DAY)
    with refused("did you mean"):
        set_goal(file, "Ada", replace(goal, drill="clubs_mils"), day=DAY)
    (over,) = judge_goals(file, "Ada", day=DAY + timedelta(days=31))
    assert over.verdict.outlook is Outlook.OVER
    assert judge_goals(file, "Ada", day=DAY + timedelta(days=90)) == ()
    assert drop_goal(file, "Ada", "clubs_mills") == 1
    with refused("has no goal"):
        drop_goal(file, "Ada", "clubs_mills")
