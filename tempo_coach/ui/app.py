"""The application of all screens, and the one of a single screen."""

from __future__ import annotations

from time import perf_counter
from typing import TYPE_CHECKING, ClassVar

from textual.app import App

from tempo_coach.errors import CoachError
from tempo_coach.ui.keyboard import find_driver
from tempo_coach.ui.palette import find_palette
from tempo_coach.ui.practice.practise import PractiseScreen

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from textual.binding import BindingType
    from textual.screen import Screen

    from tempo_coach.coach.practising.form import Form
    from tempo_coach.coach.practising.practice import Go


class CoachApp(App[int]):
    """The screens.

    Parameters
    ----------
    form : Form
        What the set-up shows.
    go : Go or None
        What to practise at once, before the set-up is seen.
    clock : callable
        ``time.perf_counter`` but in tests.
    folder : Path or None
        Where takes are kept.

    Attributes
    ----------
    paths : tuple of Path or None
        Where the takes of the first practice lie.
    unkept : tuple of Path
        Those of them that are not in the history though they should be.
    trouble : CoachError or None
        Why that could not go on.
    """

    TITLE = "tempo_coach"
    ENABLE_COMMAND_PALETTE = False
    BINDINGS: ClassVar[list[BindingType]] = [("ctrl+q,ctrl+c", "quit", "Leave")]

    def __init__(
        self,
        form: Form,
        go: Go | None = None,
        *,
        clock: Callable[[], float] = perf_counter,
        folder: Path | None = None,
    ) -> None:
        palette = find_palette()
        super().__init__(driver_class=find_driver(), ansi_color=not palette.card)
        self._colour = palette.card or "ansi_default"
        self._form = form
        self._go = go
        self._clock = clock
        self._folder = folder
        self.paths: tuple[Path | None, ...] = ()
        self.unkept: tuple[Path, ...] = ()
        self.trouble: CoachError | None = None

    def on_mount(self) -> None:
        """Open the first screen."""
        if self._go is None:
            self._set_up()
            return
        screen = PractiseScreen(self._go, clock=self._clock)
        screen.styles.background = self._colour

        def back(left: bool | CoachError | None) -> None:
            if screen.conductor is not None:
                self.paths, self.unkept = tuple(screen.conductor.paths), tuple(screen.conductor.unkept)
            if isinstance(left, CoachError):
                self.trouble = left
            elif left:
                self._set_up()
                return
            self.exit(0)

        self.push_screen(screen, back)

    def _set_up(self) -> None:
        from tempo_coach.ui.practice.setup import SetupScreen  # not before it is seen

        screen = SetupScreen(self._form, folder=self._folder)
        screen.styles.background = self._colour
        self.push_screen(screen)


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
