"""The help of every screen: whole, with its keys and an example, opened and left by one key."""

from __future__ import annotations

import pkgutil
from importlib import import_module
from typing import TYPE_CHECKING

import pytest
from textual.screen import Screen

from tempo_coach import ui
from tempo_coach.coach.practising.form import make_form
from tempo_coach.ui.app import CoachApp
from tempo_coach.ui.counts.keys import Order, find_key
from tempo_coach.ui.counts.sheet_card import EXAMPLE
from tempo_coach.ui.counts.sheet_card import draw_help as draw_keys
from tempo_coach.ui.help import HELPS, HelpScreen, draw_help, help_rows
from tempo_coach.ui.history.kept import KeptScreen
from tempo_coach.ui.palette import PLAIN
from tempo_coach.ui.practice.setup import SetupScreen
from tempo_coach.ui.screen import CardScreen
from tests.ui.fakes import in_a_loop, wait_until
from tests.ui.test_screens import DRILLS, SIZES, rows, shown

if TYPE_CHECKING:
    from pathlib import Path


@pytest.mark.parametrize("screen", HELPS)
def test_each_help_fits_the_least_screen_and_has_an_example(screen: str) -> None:
    drawn = draw_help(HELPS[screen], first_row=0, width=80, height=24, palette=PLAIN)
    assert len(drawn) == 24 and {row.cell_len for row in drawn} == {80}
    said = "\n".join(row.plain for row in drawn)
    assert "Example" in said and "F1" in said and "Ctrl+Q" in said
    assert "more ↓" not in said, "it is to be seen whole, without scrolling"
    # nothing is cut off at the right: every word of the text is there
    flat = " ".join(said.split())
    for paragraph in HELPS[screen].paragraphs:
        assert paragraph.strip() in flat
    for _, does in HELPS[screen].keys:
        assert does.split()[-1] in flat


def test_a_help_that_is_longer_than_the_screen_scrolls_to_its_end() -> None:
    rows_of_it = help_rows(HELPS["set up"], width=80, palette=PLAIN)
    drawn = draw_help(HELPS["set up"], first_row=0, width=80, height=12, palette=PLAIN)
    assert f"{len(rows_of_it) - 10} more ↓" in drawn[-1].plain


def test_every_screen_has_a_help_that_f1_finds() -> None:
    """Found by their classes, so that a new one cannot be left out."""
    names = {}
    for module in pkgutil.walk_packages(ui.__path__, "tempo_coach.ui."):
        found = vars(import_module(module.name)).values()
        names |= {each.__name__: each for each in found if isinstance(each, type) and issubclass(each, Screen)}
    told = {"HelpScreen", "CardScreen", "Screen"}  # the help itself, and what screens are made of
    helps = {name: each.help_name for name, each in names.items() if issubclass(each, CardScreen) and name not in told}
    # two of them know only while they run which help it is; the sheet of counts has one of its own
    assert isinstance(helps.pop("PractiseScreen"), property)
    assert helps.pop("KeptScreen") == "" and helps.pop("CountsScreen") == ""
    assert set(helps.values()) <= set(HELPS) and "" not in helps.values()
    assert set(names) - set(helps) - told == {"PractiseScreen", "KeptScreen", "CountsScreen"}


@pytest.mark.parametrize("together", [True, False])
def test_a_take_of_the_history_and_two_side_by_side_have_their_own(together: bool) -> None:
    assert KeptScreen((), together=together).help_name in HELPS


def test_the_sheet_of_counts_begins_its_help_with_an_example() -> None:
    drawn = draw_keys(width=80, height=24, first=0, palette=PLAIN)
    assert len(drawn) == 24 and {row.cell_len for row in drawn} == {80}
    assert "Example" in drawn[1].plain and EXAMPLE.split()[-1] in " ".join(row.plain for row in drawn)
    key = find_key("f1")
    assert key is not None and key.does is Order.HELP


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
