"""The program of screens: which one is up, and nothing else."""

from __future__ import annotations

from time import perf_counter
from typing import TYPE_CHECKING, ClassVar

from textual.app import App

from tempo_coach.ui.palette import find_palette
from tempo_coach.ui.practise import PractiseScreen

if TYPE_CHECKING:
    from collections.abc import Callable

    from textual.binding import BindingType

    from tempo_coach.ui.conductor import Done, Go


class CoachApp(App[int]):
    """The screens.

    Parameters
    ----------
    go : Go
        What to practise.
    clock : callable
        ``time.perf_counter`` but in tests.
    """

    ENABLE_COMMAND_PALETTE = False
    BINDINGS: ClassVar[list[BindingType]] = [("ctrl+q", "quit", "Leave")]

    def __init__(self, go: Go, *, clock: Callable[[], float] = perf_counter) -> None:
        palette = find_palette()
        super().__init__(ansi_color=not palette.card)
        self._card_colour = palette.card or "ansi_default"
        self._go = go
        self._clock = clock
        self.done: list[Done] = []

    def on_mount(self) -> None:
        """Open the first screen."""
        screen = PractiseScreen(self._go, clock=self._clock)
        screen.styles.background = self._card_colour

        def left(_: bool | None) -> None:
            self.done = screen.conductor.done if screen.conductor else []
            self.exit(0)

        self.push_screen(screen, left)
