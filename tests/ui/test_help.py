"""The help of every screen: whole, with its keys and an example, opened and left by one key."""

from __future__ import annotations

import asyncio
import pkgutil
from importlib import import_module
from typing import TYPE_CHECKING

import pytest
from textual.screen import Screen

from tempo_coach import ui
from tempo_coach.coach.practising.form import make_form
from tempo_coach.ui.app import AloneApp, CoachApp
from tempo_coach.ui.counts.keys import KEYS_HELP, Order, find_key
from tempo_coach.ui.help import HELPS, Help, HelpScreen
from tempo_coach.ui.history.kept import KeptScreen
from tempo_coach.ui.practice.setup import SetupScreen
from tempo_coach.ui.screen import CardScreen
from tests.ui.fakes import in_a_loop, rows, wait_until
from tests.ui.test_screens import DRILLS, SIZES, shown

if TYPE_CHECKING:
    from pathlib import Path


ALL = {**HELPS, "counts": KEYS_HELP}


async def read_to_its_end(told: Help, width: int, height: int) -> tuple[list[str], str]:
    """Everything that can be read by scrolling, and the foot that was there at first."""
    app = AloneApp(HelpScreen(told))
    async with app.run_test(size=(width, height)) as pilot:
        await wait_until(pilot, lambda: "Help" in shown(app) and "F1 back" in shown(app))
        await pilot.pause(0.05)
        seen, foot, before = rows(app)[1:-1], rows(app)[-1], [""]
        by_row = width == 80  # where every paragraph is asked for; elsewhere a page at a time does
        while before != rows(app):
            before = rows(app)
            await pilot.press("down" if by_row else "pagedown")
            await pilot.pause(0 if by_row else 0.05)
            seen += rows(app)[-2 if by_row else 1 : -1] if before != rows(app) else []
    return seen, foot


@pytest.mark.parametrize(("width", "height"), [(80, 24), (100, 30), (50, 12)])
@pytest.mark.parametrize("screen", ALL)
def test_each_help_is_there_whole_and_has_an_example(screen: str, width: int, height: int) -> None:
    told = ALL[screen]
    seen, foot = asyncio.run(read_to_its_end(told, width, height))
    flat = " ".join(" ".join(seen).split())
    assert "Example" in flat and told.example.split()[-1] in flat
    if width == 80:
        for paragraph in told.paragraphs:
            assert paragraph in flat
        for keys, does in told.keys:
            assert keys.strip() in flat and (not does or does.split()[-1] in flat)
    assert "F1 back" in foot and "Ctrl+Q" in foot
    if (width, height) == (80, 24) and screen != "counts":
        assert "more ↓" not in foot, "it is to be seen whole, without scrolling"
    if (width, height) == (50, 12):
        assert "more ↓" in foot


def test_every_screen_has_a_help_that_f1_finds() -> None:
    """Found by their classes, so that a new one cannot be left out."""
    names = {}
    for module in pkgutil.walk_packages(ui.__path__, "tempo_coach.ui."):
        found = vars(import_module(module.name)).values()
        names |= {each.__name__: each for each in found if isinstance(each, type) and issubclass(each, Screen)}
    told = {
        "HelpScreen",
        "CardScreen",
        "FormScreen",
        "AfterwardsScreen",
        "MovingScreen",
        "ReadingScreen",
        "ModalScreen",
        "Screen",
    }  # the help, and what screens are made of
    helps = {name: each.help_name for name, each in names.items() if issubclass(each, CardScreen) and name not in told}
    # two of them know only while they run which help it is; the sheet of counts has one of its own
    assert helps.pop("ItemScreen") is helps["PractiseScreen"]  # one of them with another way on
    assert isinstance(helps.pop("PractiseScreen"), property)
    assert helps.pop("KeptScreen") == "" and helps.pop("CountsScreen") == ""
    assert set(helps.values()) <= set(HELPS) and "" not in helps.values()
    assert set(names) - set(helps) - told == {"PractiseScreen", "ItemScreen", "KeptScreen", "CountsScreen"}


@pytest.mark.parametrize("together", [True, False])
def test_a_take_of_the_history_and_two_side_by_side_have_their_own(together: bool) -> None:
    assert KeptScreen((), together=together).help_name in HELPS


def test_the_sheet_of_counts_has_a_help_of_its_own() -> None:
    assert find_key("f1").does is Order.HELP


@pytest.mark.parametrize(("width", "height"), [*SIZES, (50, 12)])
def test_f1_opens_it_and_brings_back(width: int, height: int, tmp_path: Path) -> None:
    async def run() -> None:
        app = CoachApp(make_form(DRILLS), folder=tmp_path)
        async with app.run_test(size=(width, height)) as pilot:
            await wait_until(pilot, lambda: bool(rows(app)))
            await pilot.press("f1")
            await wait_until(pilot, lambda: isinstance(app.screen, HelpScreen) and "Help: set up" in shown(app))
            await pilot.press(*["pagedown"] * 5)
            assert "press Enter" in shown(app)
            await pilot.press("f1")
            await wait_until(pilot, lambda: isinstance(app.screen, SetupScreen))

    in_a_loop(run())
