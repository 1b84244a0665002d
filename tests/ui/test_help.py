"""The help of every screen: whole, with its keys and an example, opened and left by one key."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from tempo_coach.ui.app import CoachApp
from tempo_coach.ui.form import make_form
from tempo_coach.ui.help import HelpScreen, draw_help, help_rows
from tempo_coach.ui.help_texts import HELPS
from tempo_coach.ui.palette import PLAIN
from tempo_coach.ui.setup import SetupScreen
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
