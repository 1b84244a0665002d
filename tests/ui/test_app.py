"""A program of one screen: it opens that one, leaves by its keys, and takes the card's colours or the terminal's."""

from typing import ClassVar

import pytest
from textual.binding import BindingType
from textual.screen import Screen

from tempo_coach.ui.app import AloneApp
from tests.ui.fakes import in_a_loop


class Inner(Screen[None]):
    """What the screen opens itself."""


class Only(Screen[None]):
    """Opens another one, or ends the program with a result."""

    BINDINGS: ClassVar[list[BindingType]] = [("o", "open", "Open"), ("e", "end", "End")]

    def action_open(self) -> None:
        self.app.push_screen(Inner())

    def action_end(self) -> None:
        self.app.exit(7)


def test_it_opens_its_screen_and_what_that_opens() -> None:
    async def run() -> None:
        only = Only()
        app = AloneApp(only)
        async with app.run_test(size=(80, 24)) as pilot:
            await pilot.pause()
            assert app.screen is only
            await pilot.press("o")
            assert isinstance(app.screen, Inner)
            app.pop_screen()
            await pilot.pause()
            assert app.screen is only

    in_a_loop(run())


@pytest.mark.parametrize(
    ("keys", "result"),
    [(["ctrl+q"], None), (["ctrl+c"], None), (["o", "ctrl+q"], None), (["o", "ctrl+c"], None), (["e"], 7)],
)
def test_it_is_left_by_its_keys_from_every_screen_or_by_a_screen(
    monkeypatch: pytest.MonkeyPatch, keys: list[str], result: int | None
) -> None:
    left: list[int | None] = []

    async def run() -> None:
        app = AloneApp(Only())
        monkeypatch.setattr(app, "exit", lambda result=None: left.append(result))
        async with app.run_test(size=(80, 24)) as pilot:
            await pilot.press(*keys[:-1])
            assert left == []
            await pilot.press(keys[-1])
            await pilot.pause()

    in_a_loop(run())
    assert left == [result]


def test_there_is_no_palette_of_commands_and_it_says_what_it_is() -> None:
    async def run() -> None:
        only = Only()
        app = AloneApp(only)
        async with app.run_test(size=(80, 24)) as pilot:
            await pilot.press("ctrl+p")
            await pilot.pause()
            assert app.screen is only
            assert app.title == "tempo_coach"

    in_a_loop(run())


@pytest.mark.parametrize(("no_color", "own"), [("", False), ("1", True)])
def test_without_colours_the_terminals_own_are_left(monkeypatch: pytest.MonkeyPatch, no_color: str, own: bool) -> None:
    monkeypatch.setenv("NO_COLOR", no_color)
    assert AloneApp(Only()).ansi_color is own
