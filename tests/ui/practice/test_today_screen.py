"""The list of today on the screen: begun, skipped, changed, gone on with."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from typing import TYPE_CHECKING

import pytest

from tempo_coach import coach
from tempo_coach.coach.practising.form import make_form
from tempo_coach.coach.todays_practice import open_today
from tempo_coach.history.roster import Person, find_person, people_folder, save_person
from tempo_coach.history.session_record import DONE, SKIPPED
from tempo_coach.live.practice.session import Stage
from tempo_coach.pattern.drill.drill_file import list_drills
from tempo_coach.report.words.todays_list import say_item
from tempo_coach.ui.app import CoachApp
from tempo_coach.ui.practice.practise import PractiseScreen
from tempo_coach.ui.practice.setup import SetupScreen
from tempo_coach.ui.practice.today_screen import TodayScreen
from tempo_coach.ui.practice.todays_group_screen import TodaysGroupScreen
from tests.ui import fakes
from tests.ui.fakes import in_a_loop, lay, rows, wait_until

if TYPE_CHECKING:
    from pathlib import Path

DAY = date(2031, 5, 20)


@pytest.fixture
def stage(tmp_path: Path) -> fakes.Stage:
    return fakes.Stage(lay("clubs_mills", cycles=4), folder=tmp_path, options={"keys": "jf", "at_once": True})


def open_list(tmp_path: Path, stage: fakes.Stage, monkeypatch: pytest.MonkeyPatch) -> CoachApp:
    monkeypatch.setattr("tempo_coach.history.data_folder.data_folder", lambda: tmp_path / "data")
    file = tmp_path / "history.sqlite"
    for name in ("Ada", "Bea"):
        save_person(people_folder(file), Person(name, apparatus=("rope",), minutes=10))
    today = open_today(file, "Ada", day=DAY)
    screen = TodayScreen(today, ("Ada", "Bea"), prepare=lambda *_: stage.context, clock=stage.clock)
    return CoachApp(make_form(["clubs_mills"]), folder=tmp_path, today=screen)


def list_of(app: CoachApp) -> TodayScreen:
    return next(screen for screen in app.screen_stack if isinstance(screen, TodayScreen))


@pytest.mark.parametrize("size", [(80, 24), (100, 30)])
def test_it_is_seen_whole_and_says_why(tmp_path, stage, monkeypatch, size):
    async def run() -> None:
        app = open_list(tmp_path, stage, monkeypatch)
        async with app.run_test(size=size) as pilot:
            await wait_until(pilot, lambda: "last one" in "\n".join(rows(app)))
            seen = "\n".join(rows(app))
            for part in (
                "Today   Ada",
                "10 minutes, 0 of",
                "warm-up",
                "block 2",
                "Keys: right j",
                "Mind: ",
                "Enter start",
            ):
                assert part in seen
            assert all(len(row) <= size[0] for row in rows(app))

    in_a_loop(run())


@pytest.mark.parametrize("width", [40, 66, 80, 81, 100, 140])
def test_no_title_and_nothing_of_how_is_cut(tmp_path, stage, monkeypatch, width):
    open_list(tmp_path, stage, monkeypatch)
    screen = TodayScreen(open_today(tmp_path / "history.sqlite", "Ada", day=DAY))
    record, drills = screen.today.record, screen.today.drills
    longest = max(map(coach.load_drill, list_drills()), key=lambda drill: len(drill.title))
    screen.today = replace(
        screen.today,
        record=replace(record, items=tuple(replace(each, cues="thinning", takes=12) for each in record.items)),
        drills=dict.fromkeys(drills, longest),
    )
    for place, item in enumerate(screen.today.record.items):
        drawn = screen._rows(place, width)
        assert max(row.cell_len for row in drawn) <= width
        seen = " ".join(" ".join(row.plain for row in drawn).split())
        told = say_item(item, longest.title)
        assert set(f"{told.title} {told.short}".split()) <= set(seen.split())


def test_one_key_begins_and_one_goes_on(tmp_path, stage, monkeypatch):
    async def run() -> None:
        app = open_list(tmp_path, stage, monkeypatch)
        async with app.run_test(size=(80, 24)) as pilot:
            await wait_until(pilot, lambda: "warm-up" in "\n".join(rows(app)))
            await pilot.press("enter")
            await wait_until(pilot, lambda: isinstance(app.screen, PractiseScreen) and app.screen.conductor is not None)
            await wait_until(pilot, lambda: app.screen.conductor.session.stage is Stage.PLAYING)
            stage.clock.now += stage.plan.duration + 5
            await wait_until(pilot, lambda: app.screen.conductor.session.stage is Stage.AFTER)
            first = app.screen
            stage.clock.now += 10
            await wait_until(pilot, lambda: "Enter next" in "\n".join(rows(app)))
            await pilot.press("enter")
            await wait_until(pilot, lambda: isinstance(app.screen, PractiseScreen) and app.screen is not first)
            today = list_of(app).today
            assert today.record.states[:2] == (DONE, "")
            assert find_person(people_folder(today.file), "Ada").keys == "jf"

    in_a_loop(run())


def test_what_is_skipped_and_changed_is_kept(tmp_path, stage, monkeypatch):
    async def run() -> None:
        app = open_list(tmp_path, stage, monkeypatch)
        async with app.run_test(size=(80, 24)) as pilot:
            await wait_until(pilot, lambda: "warm-up" in "\n".join(rows(app)))
            before = list_of(app).today.record
            await pilot.press("f2", "right", "f3")
            record = list_of(app).today.record
            assert record.states[0] == SKIPPED and record.items[1].drill != before.items[1].drill
            assert open_today(tmp_path / "history.sqlite", "Ada", day=DAY).record == record
            await pilot.press("f4")
            assert list_of(app).today.record.minutes == 20 and "20 minutes, 0 of" in rows(app)[0]
            await pilot.press("f5")
            assert "Today   Bea" in rows(app)[0] and list_of(app).today.record.minutes == 10
            await pilot.press("x", "a")
            assert "Today   Ada" in rows(app)[0]
            await pilot.press("tab")
            await wait_until(pilot, lambda: isinstance(app.screen, SetupScreen))

    in_a_loop(run())


@pytest.mark.parametrize("size", [(80, 24), (40, 10)])
def test_the_lists_of_twelve_are_on_one_screen(tmp_path, monkeypatch, size):
    monkeypatch.setattr("tempo_coach.history.data_folder.data_folder", lambda: tmp_path / "data")
    file = tmp_path / "history.sqlite"
    names = (*(f"{chr(65 + k)}{'a' * (k % 3)}" for k in range(11)), f"Z{'o' * 59}")
    for name in names:
        save_person(people_folder(file), Person(name, apparatus=("rope",), minutes=20))

    async def run() -> None:
        screen = TodayScreen(open_today(file, names[0], day=DAY), names, group=names)
        app = CoachApp(make_form(["clubs_mills"]), folder=tmp_path, today=screen)
        async with app.run_test(size=size) as pilot:
            await wait_until(pilot, lambda: isinstance(app.screen, TodaysGroupScreen))
            await pilot.press("down", *["down"] * 11)
            seen = rows(app)
            assert all(len(row) <= size[0] for row in seen)
            assert any("▸ Zo" in row and "…" in row for row in seen)
            if size[1] >= 24:
                assert all(any(row[3:].startswith(f"{name} ") for row in seen) for name in names[:-1])
                assert sum("warm-up" in row for row in seen) == 1
                assert any("block 2" in row for row in seen)
            await pilot.press("pagedown", "up", "up", "enter")
            await wait_until(pilot, lambda: isinstance(app.screen, TodayScreen) and "Today" in rows(app)[0])
            assert list_of(app).today.person.name == names[9]

    in_a_loop(run())
