"""A program of one screen, for the commands that open no others."""

from __future__ import annotations

from typing import TYPE_CHECKING, ClassVar

from textual.app import App

from tempo_coach.ui.palette import find_palette

if TYPE_CHECKING:
    from textual.binding import BindingType
    from textual.screen import Screen


class AloneApp(App[int]):
    """One screen, and what it opens itself.

    Parameters
    ----------
    screen : Screen
    """

    TITLE = "tempo_coach"
    ENABLE_COMMAND_PALETTE = False
    BINDINGS: ClassVar[list[BindingType]] = [("ctrl+q,ctrl+c", "quit", "Leave")]

    def __init__(self, screen: Screen[None]) -> None:
        super().__init__(ansi_color=not find_palette().card)
        self._first = screen

    def on_mount(self) -> None:
        """Open the screen."""
        self.push_screen(self._first)
