"""A person on one screen: reached from the set-up and from today's list, changed there, and followed by both."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from tempo_coach.coach.practising.form import make_form
from tempo_coach.history.data_folder import FILE_VARIABLE
from tempo_coach.history.roster import Person, find_person, people_folder, save_person
from tempo_coach.ui.app import CoachApp
from tempo_coach.ui.practice.person_screen import PersonScreen
from tempo_coach.ui.practice.practise import PractiseScreen
from tempo_coach.ui.practice.setup import SetupScreen
from tests.ui import snapshots
from tests.ui.fakes import in_a_loop, wait_until
from tests.ui.test_screens import DRILLS, SIZES, conductor_of, rows, shown

if TYPE_CHECKING:
    from pathlib import Path

    from textual.pilot import Pilot


@pytest.fixture
def file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A history that is not there yet, with Ada and Bea beside it."""
    history = tmp_path / "history.sqlite"
    monkeypatch.setenv(FILE_VARIABLE, str(history))
    folder = people_folder(history)
    tempi = {"rope_figure_eight": 92.0}
    save_person(folder, Person("Bea", keys="kd", chosen={"drill": "rope_figure_eight", "takes": "3"}, tempi=tempi))
    save_person(folder, Person("Ada", level="juniors"))
    return history


async def reach_set_up(app: CoachApp, pilot: Pilot[int], *, other: str) -> SetupScreen:
    """Return the set-up once it offers another person's name."""
    await wait_until(pilot, lambda: isinstance(app.screen, SetupScreen) and bool(rows(app)))
    screen = app.screen
    assert isinstance(screen, SetupScreen)
    await wait_until(pilot, lambda: other in screen.form.line("athlete").choices)
    return screen


@pytest.mark.parametrize(("width", "height"), SIZES)
def test_a_person_is_looked_at_and_changed_from_the_set_up(file: Path, width: int, height: int) -> None:
    async def run() -> None:
        app = CoachApp(make_form(DRILLS, athlete="Ada"), folder=file.parent)
        async with app.run_test(size=(width, height)) as pilot:
            await reach_set_up(app, pilot, other="Bea")
            await pilot.press("f7")
            await wait_until(pilot, lambda: isinstance(app.screen, PersonScreen) and "juniors" in shown(app))
            said = rows(app)
            below = [""] * (height - 16)  # where her file is: in another folder each time
            snapshots.check("a_person", [*said[:15], *below, said[-1]], width=width, height=height)
            await pilot.press("right", "right", "down", "down", "down", *" b", "enter")
            await wait_until(pilot, lambda: isinstance(app.screen, SetupScreen))
            ada = find_person(people_folder(file), "Ada")
            assert (ada.hand, ada.level) == ("left", "juniors b")
            await wait_until(pilot, lambda: "mirrored" in shown(app))

    in_a_loop(run())


def test_another_key_keeps_her_and_leads_to_the_next_one(file: Path) -> None:
    async def run() -> None:
        app = CoachApp(make_form(DRILLS, athlete="Ada"), folder=file.parent)
        async with app.run_test(size=(80, 24)) as pilot:
            screen = await reach_set_up(app, pilot, other="Bea")
            await pilot.press("f7")
            await wait_until(pilot, lambda: isinstance(app.screen, PersonScreen) and "juniors" in shown(app))
            await pilot.press("left", "f5")
            await wait_until(pilot, lambda: "kd" in shown(app))
            assert find_person(people_folder(file), "Ada").hand == "left"
            await pilot.press("escape")
            await wait_until(pilot, lambda: app.screen is screen)
            assert screen.form.value("athlete") == "Bea" and screen.form.value("takes") == "3"

    in_a_loop(run())


def test_first_letters_stand_for_whom_they_begin_and_her_choices_are_there(file: Path) -> None:
    async def run() -> None:
        app = CoachApp(make_form(DRILLS, athlete="Ada", device="none"), folder=file.parent)
        async with app.run_test(size=(80, 24)) as pilot:
            screen = await reach_set_up(app, pilot, other="Bea")
            await pilot.press("up", "b", "enter")  # the first Enter says who is meant
            await wait_until(pilot, lambda: screen.form.value("athlete") == "Bea")
            await wait_until(pilot, lambda: screen.form.value("drill") == "rope_figure_eight")
            assert (screen.form.value("takes"), screen.form.value("tempo")) == ("3", "92")
            await pilot.press("enter")
            await wait_until(pilot, lambda: isinstance(app.screen, PractiseScreen))
            await wait_until(pilot, lambda: app.screen.conductor is not None)  # type: ignore[attr-defined]
            assert conductor_of(app).session.keys == (("right", "k"),), "her own key is not asked for again"

    in_a_loop(run())


def test_nothing_of_one_person_stays_for_the_next(file: Path) -> None:
    async def run() -> None:
        app = CoachApp(make_form(DRILLS, athlete="Bea"), folder=file.parent)
        async with app.run_test(size=(80, 24)) as pilot:
            screen = await reach_set_up(app, pilot, other="Ada")
            await pilot.press("up", "b", "down", "up", "a", "down")
            await wait_until(pilot, lambda: screen.form.value("athlete") == "Ada")
            await wait_until(pilot, lambda: screen.form.value("takes") == "")
            assert screen.form.value("tempo") == ""

    in_a_loop(run())
