"""The README's pictures of the screens: ``python -m tests.ui.pictures`` takes them anew.

They are taken from the running program, its clock and its sound faked, and kept as SVG in a hidden folder at the top.
"""

from __future__ import annotations

import html
import re
import tempfile
from pathlib import Path
from typing import TYPE_CHECKING

from tempo_coach.coach.practising.form import make_form
from tempo_coach.live.practice.session import Stage
from tempo_coach.ui.app import AloneApp, CoachApp
from tempo_coach.ui.group import GroupScreen
from tempo_coach.ui.row_widgets import Card
from tests.ui import fakes, test_group
from tests.ui.counts import test_screen as test_counts
from tests.ui.fakes import in_a_loop, lay, wait_until
from tests.ui.history import test_screen as test_history
from tests.ui.test_screens import DRILLS, conductor_of, open_app, play, rows, shown, start

if TYPE_CHECKING:
    from textual.app import App

FOLDER = Path(__file__).parents[2] / ".pictures"
SIZE = (80, 24)


def take_pictures() -> dict[str, str]:
    """Return the SVG of each screen by its name."""
    pictures: dict[str, str] = {}

    async def set_up(folder: Path) -> None:
        app = CoachApp(make_form(DRILLS), folder=folder)
        async with app.run_test(size=SIZE) as pilot:
            await wait_until(pilot, lambda: bool(rows(app)))
            await pilot.press("down", "down", "right")
            await pilot.pause(0.1)
            pictures["set_up"] = app.export_screenshot()

    async def practise() -> None:
        stage = fakes.Stage(lay("rope_figure_eight", cycles=10))
        stage.player.name = "the loudspeaker"
        app = open_app(stage)
        async with app.run_test(size=SIZE) as pilot:
            await wait_until(pilot, lambda: "press the key for" in shown(app))
            await start(app, pilot, "j", "enter")
            zero = stage.clock.now
            await play(app, pilot, stage, until=13.0)
            app.screen.draw()
            await pilot.pause(0.1)
            pictures["practise"] = app.export_screenshot()
            stage.clock.now = zero
            await play(app, pilot, stage, after=13.0)
            await wait_until(pilot, lambda: conductor_of(app).session.stage is Stage.AFTER and "kept in" in shown(app))
            await pilot.pause(0.2)
            pictures["after_the_take"] = app.export_screenshot()

    async def one(name: str, app: App[int], *keys: str) -> None:
        async with app.run_test(size=SIZE) as pilot:
            await wait_until(pilot, lambda: bool(app.screen.query(Card)) and bool(rows(app)))
            await pilot.press(*keys)
            await pilot.pause(0.1)
            pictures[name] = app.export_screenshot()

    with tempfile.TemporaryDirectory() as folder:
        in_a_loop(set_up(Path(folder)))
        music = test_counts.write_music(Path(folder))
        with test_counts.open_invented(Path(folder), music) as opened:
            in_a_loop(one("counts", test_counts.Stage(opened).app, "down", "down", "right", "1", "n"))
        with test_history.open_season(Path(folder), ("Ada", "Zoë", "Mia")) as history:
            app, _ = test_history.open_app(history, Path(folder))
            in_a_loop(one("history", app, "down"))
    in_a_loop(practise())
    in_a_loop(one("group", AloneApp(GroupScreen(test_group.judge_five(("Ada", "Bea", "Cyl", "Dör", "Eva"))))))
    # it shows where the drill would be saved, which must not be another folder each time
    in_a_loop(one("new_drill", CoachApp(make_form(DRILLS), folder=Path("tempo_coach")), "f4", *"my_eight"))
    # the drawing library points to fonts on the net: whoever looks at a picture should not call anybody
    return {name: re.sub(r"@font-face\s*{[^}]*}", "", svg) for name, svg in pictures.items()}


def words_of(svg: str) -> str:
    """Return what a picture says, without how it is drawn: that differs between versions of the drawing library."""
    texts = re.findall(r"<text[^>]*>([^<]*)</text>", svg)
    return " ".join(html.unescape(" ".join(texts)).replace("\xa0", " ").split())


if __name__ == "__main__":
    FOLDER.mkdir(exist_ok=True)
    for name, svg in take_pictures().items():
        (FOLDER / f"{name}.svg").write_text(svg, encoding="utf-8")
