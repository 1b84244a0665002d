"""The README's pictures of the screens: ``python -m tests.ui.pictures`` takes them anew.

They are taken from the running program, its clock and its sound faked, and kept as SVG in a hidden folder at the top.
"""

from __future__ import annotations

import html
import re
import tempfile
from pathlib import Path

from tempo_coach.live.session import Stage
from tempo_coach.ui.app import CoachApp
from tempo_coach.ui.form import make_form
from tests.ui import fakes
from tests.ui.fakes import in_a_loop, lay, wait_until
from tests.ui.test_screens import DRILLS, conductor_of, open_app, play, rows, shown, start

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

    with tempfile.TemporaryDirectory() as folder:
        in_a_loop(set_up(Path(folder)))
    in_a_loop(practise())
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
