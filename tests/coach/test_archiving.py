"""Takes put into the history and judged again: what is kept is what was judged."""

import json
import math
from dataclasses import replace

import numpy as np
import pytest

from tempo_coach import coach
from tempo_coach.coach import archiving
from tempo_coach.history.records import Wanted
from tempo_coach.history.takes import History
from tempo_coach.music.counts.count_map import CountMap, Position
from tempo_coach.observe.take.onsets import Onsets, Take
from tempo_coach.pattern.plan.every_count import lay_every_count
from tempo_coach.pattern.plan.plan import Music
from tempo_coach.pattern.routine.routine import MusicFile, Routine
from tempo_coach.pattern.routine.routine_writer import write_routine
from tempo_coach.report.words.card import card_to_dict
from tests.refused import refused

PLAN = coach.lay(coach.Request("clubs_mills", tempo_bpm=100, cycles=12))


def take(spread, seed=1, plan=PLAN):
    off = np.random.default_rng(seed).normal(0, spread, len(plan.moments))
    return Take(plan, Onsets.unsorted((plan.moments.time + off).tolist(), plan.moments.hand))


@pytest.fixture
def file(tmp_path):
    return tmp_path / "takes.sqlite"


def kept(file, number):
    with History(file) as history:
        return history.take(number)


def test_a_routine_is_named_or_its_file_is(tmp_path):
    written = tmp_path / "spring.toml"
    write_routine(written, Routine("Spring (invented)", MusicFile("waltz in May.mp3"), first=Position(1, 1)))
    # takes are kept under the name of the music that they were played to
    assert archiving.name_routine(str(written)) == "waltz in May"
    assert archiving.name_routine("Spring 2031") == "Spring 2031"
    with refused("no such"):
        archiving.name_routine(str(tmp_path / "missing.toml"))


def test_a_take_stands_under_its_music_unless_a_routine_is_named(file):
    to_music = replace(PLAN, music=Music("/anywhere/waltz.mp3", "0"))
    named = [
        kept(
            file, archiving.keep_take(take(0.01, plan=plan), athlete="Ada", begun=begun, routine=routine, file=file)
        ).row
        for plan, begun, routine in (
            (PLAN, "2031-05-04T10:00", None),
            (to_music, "2031-05-04T11:00", None),
            (to_music, "2031-05-04T12:00", "Spring"),
        )
    ]
    assert [row.routine for row in named] == ["", "waltz", "Spring"]


def test_what_is_kept_is_what_was_judged(file):
    done = take(0.02)
    number = archiving.keep_take(done, athlete="Ada", begun="2031-05-04T10:00", note="first try", file=file)
    found = kept(file, number)
    said = json.loads(json.dumps(card_to_dict(coach.judge_take(done))))
    assert found.card == said
    assert found.row.steady == coach.is_steady(coach.judge_take(done))
    assert [note.text for note in found.notes] == ["first try"]
    assert json.loads(json.dumps(card_to_dict(archiving.judge_kept(found)))) == said


def test_judging_again_changes_nothing_while_the_measures_are_the_same(file):
    numbers = [
        archiving.keep_take(take(0.02, seed), athlete="Ada", begun=f"2031-05-0{seed}T10:00", file=file)
        for seed in (1, 2, 3)
    ]
    shares: list[float] = []
    assert archiving.rescore(numbers, made="2031-06-01T09:00", file=file, progress=shares.append) == 0
    assert shares[-1] == 1
    # a scorecard of another version is replaced, and counted
    with History(file) as history:
        said = {**history.take(numbers[1]).card, "sentence": "of old"}
        history.put_card(numbers[1], said, steady=False, made="2031-06-01T10:00")
    assert archiving.rescore(numbers, made="2031-06-02T09:00", file=file) == 1
    assert kept(file, numbers[1]).card["sentence"] != "of old"
    with refused("99"):
        archiving.rescore([99], made="2031-06-02T09:00", file=file)


def test_a_take_that_was_fitted_is_judged_as_one_again(file):
    placed = coach.Placed(take(0.01), absolute=False, confidence=0.75)
    number = archiving.keep_take(
        placed.take,
        athlete="Ada",
        begun="2031-05-04T10:00",
        card=coach.judge_placed(placed),
        setup=archiving.say_placing(placed),
        file=file,
    )
    again = archiving.judge_kept(kept(file, number))
    assert again.reasons == coach.judge_placed(placed).reasons != coach.judge_take(placed.take).reasons
    assert archiving.say_placing(coach.Placed(take(0.01), absolute=True, confidence=None)) == {}


def test_the_take_before_is_the_last_one_of_the_same_person_and_drill(file):
    other = coach.lay(coach.Request("rope_figure_eight", tempo_bpm=100, cycles=8))
    for athlete, plan, day in (
        ("Ada", PLAN, 3),
        ("Ada", other, 4),
        ("Bea", PLAN, 5),
        ("Ada", PLAN, 6),
        ("Ada", PLAN, 7),
    ):
        archiving.keep_take(take(0.01, plan=plan), athlete=athlete, begun=f"2031-05-0{day}T10:00", file=file)
    with History(file) as history:
        rows = {row.begun[8:10]: row for row in history.find(Wanted())}
        before = {day: archiving.take_before(history, row) for day, row in rows.items()}
    assert {day: found and found.row.begun[8:10] for day, found in before.items()} == {
        "03": None, "04": None, "05": None, "06": "03", "07": "06",
    }  # fmt: skip


def test_the_page_of_a_kept_take_has_its_notes(file):
    number = archiving.keep_take(take(0.02), athlete="Ada", begun="2031-05-04T10:00", note="new clubs", file=file)
    with History(file) as history:
        page = archiving.take_page_of(history, number)
    assert "Ada" in page and "new clubs" in page and "2031-05-04" in page


def test_the_newest_take_of_the_drill_at_that_tempo_and_observed_that_way_is_found_again(file):
    assert archiving.find_alike(take(0.01), athlete="Ada", file=file) == archiving.Alike(0, None)
    near, far = (coach.lay(coach.Request("clubs_mills", tempo_bpm=tempo, cycles=12)) for tempo in (102, 120))
    other = coach.lay(coach.Request("rope_figure_eight", tempo_bpm=100, cycles=8))
    taps = {"observed_by": "tap"}
    for day, each, athlete in (
        (1, replace(take(0.03), **taps), "Ada"),
        (2, replace(take(0.02, plan=near), **taps), "Ada"),
        (3, replace(take(0.01, plan=far), **taps), "Ada"),
        (4, take(0.01), "Ada"),  # another way of observing
        (5, replace(take(0.01), **taps), "Zoë"),
        (6, replace(take(0.01, plan=other), **taps), "Ada"),
    ):
        archiving.keep_take(each, athlete=athlete, begun=f"2031-05-0{day}T10:00", file=file)
    found = archiving.find_alike(replace(take(0.01, seed=2), **taps), athlete="Ada", file=file)
    assert found.kept == 4 and found.newest is not None and found.newest.row.day == "2031-05-02"
    slow = coach.lay(coach.Request("clubs_mills", tempo_bpm=70, cycles=12))
    assert archiving.find_alike(replace(take(0.01, plan=slow), **taps), athlete="Ada", file=file) == archiving.Alike(
        4, None
    )
    with refused("no athlete"):
        archiving.find_alike(take(0.01), athlete="Eva", file=file)


@pytest.mark.parametrize("setup", [{}, {"delay_ms": 40.0, "delay_by": "taps to clicks"}])
def test_a_take_of_a_calibrated_setup_is_judged_again_as_one(file, setup):
    tapped = replace(take(0.006), observed_by="tap", calibrated=bool(setup))
    number = archiving.keep_take(tapped, athlete="Ada", begun="2031-05-04T10:00", setup=setup, file=file)
    found = kept(file, number)
    assert found.take.calibrated is bool(setup)
    assert card_to_dict(archiving.judge_kept(found)) == found.card
    assert ("in time" in found.card["sentence"]) is bool(setup)
    assert archiving.rescore([number], made="2031-06-01T09:00", file=file) == 0


def test_a_take_that_was_kept_before_is_calibrated_where_its_delay_was_taken_out(file):
    tapped = replace(take(0.006), observed_by="tap")
    setup = {"delay_ms": 40.0, "delay_by": "taps to clicks"}
    number = archiving.keep_take(tapped, athlete="Ada", begun="2031-05-04T10:00", setup=setup, file=file)
    assert kept(file, number).take.calibrated


def test_a_take_without_a_place_is_kept_and_judged_again_without_one(file):
    seen = coach.Placed(replace(take(0.006), observed_by="sensor"), False, 0.9)
    number = archiving.keep_take(
        seen.take,
        athlete="Ada",
        begun="2031-05-04T10:00",
        card=coach.judge_placed(seen),
        setup=archiving.say_placing(seen),
        file=file,
    )
    found = kept(file, number)
    assert {cycle["eight"] for cycle in found.card["cycles"]} == {None}
    assert card_to_dict(archiving.judge_kept(found)) == found.card


def test_a_group_is_kept_whole_or_not_at_all(tmp_path, file, monkeypatch):
    rows = {}
    for seed, name in enumerate(("Ada", "Bea"), 1):
        onsets = take(0.01, seed).onsets
        rows[name] = tmp_path / f"{name}.csv"
        rows[name].write_text(
            "time,hand\n" + "".join(f"{t},{h}\n" for t, h in zip(onsets.time, onsets.hand, strict=True))
        )
    judged = coach.judge_members([f"{name}={path}" for name, path in rows.items()], lay_plan=lambda _: PLAN)
    put = History.put

    def fail(history, taken, said, **about):
        if about["athlete"] == "Bea":
            raise KeyboardInterrupt
        return put(history, taken, said, **about)

    def count():
        with History(file) as history:
            return len(history.find()), len(history.ask("SELECT team FROM performance"))

    monkeypatch.setattr(History, "put", fail)
    with pytest.raises(KeyboardInterrupt):
        archiving.keep_group(judged, team="duo", begun="2031-05-05T18:00", file=file)
    assert count() == (0, 0)
    monkeypatch.undo()
    archiving.keep_group(judged, team="duo", begun="2031-05-05T18:00", file=file)
    assert count() == (2, 1)


def test_a_members_take_by_a_sensor_without_a_zero_is_kept_without_early_and_late(tmp_path):
    file = tmp_path / "history.sqlite"
    time = np.arange(0, 25, 0.02)
    sources = []
    for name, late in (("Ada", 0.0), ("Bea", 0.1)):
        turn = 2 * np.pi * (time - late) / 0.5
        table = np.column_stack([time, np.sin(turn), 6 + np.cos(turn), 0.4 * np.cos(2 * turn)])
        np.savetxt(tmp_path / f"{name}.csv", table, delimiter=",", header="time_s,wx_rads,wy_rads,wz_rads", comments="")
        sources.append(f"{name}={tmp_path / name}.csv")
    plan = lay_every_count(CountMap.steady(120), end=24, tempo_bpm=120)
    judged = coach.judge_members(sources, lay_plan=lambda _: plan)
    assert judged.card.without_zero == {"Ada", "Bea"} and all(math.isnan(m.bias) for m in judged.card.members)
    archiving.keep_group(judged, team="duo", begun="2031-05-05T18:00", file=file)
    with History(file, read_only=True) as history:
        kept = [history.take(row.number) for row in history.find()]
    assert [each.setup.get("fitted") for each in kept] == [True, True]
    assert all(math.isnan(archiving.judge_kept(each).measures["bias_ms"].value) for each in kept)
