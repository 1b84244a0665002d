"""Everything by mouse: keys of a foot are clicked, lines of a form and takes of the history are chosen and changed."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest
from textual.events import MouseScrollDown, MouseScrollUp

from tempo_coach.coach.practising.form import make_form
from tempo_coach.history.takes import History
from tempo_coach.live.practice.session import Stage
from tempo_coach.ui.app import AloneApp, CoachApp
from tempo_coach.ui.form import Field, FormScreen
from tempo_coach.ui.help import HelpScreen
from tempo_coach.ui.history.kept import KeptScreen
from tempo_coach.ui.history.screen import HistoryScreen
from tempo_coach.ui.practice.new_drill import NewDrillScreen
from tempo_coach.ui.practice.practise import PractiseScreen
from tempo_coach.ui.practice.setup import SetupScreen
from tempo_coach.ui.row_widgets import Card
from tests.history.season import put
from tests.ui import fakes
from tests.ui.fakes import in_a_loop, lay, rows, wait_until
from tests.ui.test_screens import DRILLS, SIZES, conductor_of, open_app, shown

if TYPE_CHECKING:
    from pathlib import Path

    from textual.app import App
    from textual.pilot import Pilot


async def click(app: App[int], pilot: Pilot[int], words: str, *, in_row: str = "") -> None:
    """Click words where they stand, in the last row that has them."""
    drawn = rows(app)
    row = max(y for y, line in enumerate(drawn) if words in line and in_row in line)
    await pilot.click(offset=(drawn[row].index(words), row))
    await pilot.pause(0.02)


def line_of(screen: FormScreen[None]) -> str:
    """The key of the chosen line."""
    assert isinstance(screen.focused, Field)
    return screen.focused.line.key


async def turn_wheel(app: App[int], pilot: Pilot[int], which: type[MouseScrollUp | MouseScrollDown]) -> None:
    card = app.screen.query_one(Card)
    app.post_message(which(card, 5, 5, 0, 0, 0, False, False, False))
    await pilot.pause(0.05)


@pytest.mark.parametrize(("width", "height"), SIZES)
def test_the_set_up_from_line_to_line_and_into_the_practice(width: int, height: int, tmp_path: Path) -> None:
    async def run() -> None:
        app = CoachApp(make_form(DRILLS, device="none"), folder=tmp_path)
        async with app.run_test(size=(width, height)) as pilot:
            await wait_until(pilot, lambda: bool(rows(app)))
            screen = app.screen
            assert isinstance(screen, SetupScreen)
            await click(app, pilot, "▸", in_row="drill")  # the sign in front of the chosen line: nothing to change
            assert screen.form.value("drill") == "clubs_mills"
            await click(app, pilot, " ▸ ", in_row="◂")
            assert screen.form.value("drill") == "clubs_mills"
            drawn = rows(app)
            row = next(y for y, line in enumerate(drawn) if "◂" in line)
            await pilot.click(offset=(drawn[row].rindex("▸"), row))
            assert screen.form.value("drill") == "rope_figure_eight"
            await pilot.click(offset=(drawn[row].index("◂"), row))
            assert screen.form.value("drill") == "clubs_mills"
            await click(app, pilot, "tempo steps")
            assert line_of(screen) == "steps"
            await turn_wheel(app, pilot, MouseScrollUp)
            assert line_of(screen) == "takes"
            await click(app, pilot, "F1 help")
            await wait_until(pilot, lambda: isinstance(app.screen, HelpScreen))
            await click(app, pilot, "F1 back")
            await wait_until(pilot, lambda: app.screen is screen)
            await click(app, pilot, "F4 new drill")
            await wait_until(pilot, lambda: isinstance(app.screen, NewDrillScreen) and bool(rows(app)))
            await click(app, pilot, "hands")
            drawn = rows(app)
            row = next(y for y, line in enumerate(drawn) if "◂" in line)
            await pilot.click(offset=(drawn[row].rindex("▸"), row))
            assert "left" in rows(app)[row]
            await click(app, pilot, "Escape back")
            await wait_until(pilot, lambda: app.screen is screen)
            await click(app, pilot, "Enter start")
            await wait_until(
                pilot, lambda: isinstance(app.screen, PractiseScreen) and "press the key for" in shown(app)
            )
            await click(app, pilot, "Enter usual keys")
            await wait_until(pilot, lambda: conductor_of(app).session.stage is not Stage.ASKING)

    in_a_loop(run())


def test_the_wheel_is_no_key_of_a_hand() -> None:
    async def run() -> None:
        stage = fakes.Stage(lay("clubs_mills"))
        app = open_app(stage)
        async with app.run_test(size=(80, 24)) as pilot:
            await wait_until(pilot, lambda: "press the key for" in shown(app))
            await turn_wheel(app, pilot, MouseScrollDown)
            assert conductor_of(app).session.keys == ()

    in_a_loop(run())


def test_takes_of_the_history_are_chosen_and_opened(tmp_path: Path) -> None:
    async def run() -> None:
        with History(tmp_path / "history.sqlite") as history:
            for seed in (1, 2, 3):
                put(history, seed, athlete="Ada", begun=f"2031-05-{seed:02d}T18:00:00")
            app = AloneApp(HistoryScreen(history, folder=tmp_path))
            async with app.run_test(size=(80, 24)) as pilot:
                await wait_until(
                    pilot, lambda: isinstance(app.screen, HistoryScreen) and "3 of 3" in "".join(rows(app))
                )
                screen = app.screen
                assert isinstance(screen, HistoryScreen)
                await click(app, pilot, "2031-05-01")
                assert screen.row is not None and screen.row.number == 1
                await click(app, pilot, "Tab mark")
                assert screen.marked == 1
                await click(app, pilot, "2031-05-03")
                await click(app, pilot, "2031-05-03")
                await wait_until(
                    pilot, lambda: isinstance(app.screen, KeptScreen) and "Two takes" in "".join(rows(app))
                )
                await click(app, pilot, "Enter back")
                await wait_until(pilot, lambda: app.screen is screen)
                await click(app, pilot, "Ctrl+Q")
            assert app.return_value is None or app.return_value == 0

    in_a_loop(run())
