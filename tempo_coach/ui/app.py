"""The application of all screens, and the one of a single screen."""

from __future__ import annotations

from time import perf_counter
from typing import TYPE_CHECKING, ClassVar

from textual.app import App

from tempo_coach.errors import CoachError
from tempo_coach.ui.keyboard import find_driver
from tempo_coach.ui.palette import css_variables, find_palette
from tempo_coach.ui.practice.practise import PractiseScreen

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from textual.binding import BindingType
    from textual.driver import Driver
    from textual.screen import Screen

    from tempo_coach.coach.practising.form import Form
    from tempo_coach.coach.practising.practice import PracticeContext
    from tempo_coach.ui.practice.today_screen import TodayScreen


#: How the widgets of all screens look, in the card's colours.
STYLES = """
Screen { background: $card-ground; color: $card-ink; scrollbar-size: 0 0; }
Card { width: 100%; height: 1fr; }
Foot { dock: bottom; height: 1; }
Static { width: 100%; color: $card-ink; background: $card-ground; }
VerticalScroll { height: 1fr; scrollbar-size: 0 0; background: $card-ground; }
#head { height: 2; }
SetupScreen > #head { height: 1; }
SetupScreen.-high > #head { height: 2; }
FormView { height: auto; }
FormView > * { width: 100%; height: 1; }
TypedRow > Card { width: 22; }
Prompt { height: 1; display: none; }
Prompt.-open { display: block; }
Prompt > Card { width: auto; }
Prompt Input > .input--placeholder { color: $faint-ink; }
HistoryScreen > #head { height: 1; }
HistoryScreen > #main { height: 8; }
HistoryScreen.-high > #main { height: 11; }
OptionList {
    height: 1fr; border: none; padding: 0; scrollbar-size: 0 0; overflow-x: hidden;
    color: $card-ink; background: $card-ground;
}
OptionList > .option-list--option { padding: 0; }
OptionList > .option-list--option-disabled { color: $card-ink; background: $card-ground; }
OptionList > .option-list--option-hover { color: $card-ink; background: $card-ground; text-style: none; }
OptionList > .option-list--option-highlighted { color: $bar-ink; background: $bar-ground; text-style: $bar-style; }
Input, Input:focus {
    width: 1fr; height: 1; border: none; padding: 0; scrollbar-size: 0 0;
    color: $card-ink; background: $card-ground; text-style: none; background-tint: $card-ground 0%;
}
Input > .input--placeholder, Input > .input--suggestion {
    color: $card-ink; background: $card-ground; text-style: none;
}
Input > .input--cursor { color: $bar-ink; background: $bar-ground; text-style: $bar-style; }
HelpScreen > #main { height: 1; }
HelpScreen Static { padding: 1 4 0 2; }
CardScreen.-small > * { display: none; }
CardScreen.-small > #main { display: block; height: 1fr; }
"""


class BaseApp(App[int]):
    """Base of all programs of screens: colours, and nothing that moves on its own."""

    TITLE = "tempo_coach"
    ENABLE_COMMAND_PALETTE = False
    CSS = STYLES
    BINDINGS: ClassVar[list[BindingType]] = [("ctrl+q,ctrl+c", "quit", "Leave")]

    def __init__(self, driver_class: type[Driver] | None = None) -> None:
        self._palette = find_palette()
        super().__init__(driver_class=driver_class, ansi_color=not self._palette.card)
        self.animation_level = "none"

    def get_css_variables(self) -> dict[str, str]:
        """Return the variables of widgets' styles, the card's included."""
        return {**super().get_css_variables(), **css_variables(self._palette)}


class CoachApp(BaseApp):
    """The program of all screens.

    Parameters
    ----------
    form : Form
        What the set-up shows.
    context : PracticeContext or None
        What to practise at once, before the set-up is seen.
    clock : callable
        ``time.perf_counter`` but in tests.
    folder : Path or None
        Where takes are kept.
    today : TodayScreen or None
        The list of today, before the set-up is seen.

    Attributes
    ----------
    paths : tuple of Path or None
        Where the takes of the first practice lie.
    unkept : tuple of Path
        Those of them that are not in the history though they should be.
    trouble : CoachError or None
        Why that could not go on.
    """

    def __init__(
        self,
        form: Form,
        context: PracticeContext | None = None,
        *,
        clock: Callable[[], float] = perf_counter,
        folder: Path | None = None,
        today: TodayScreen | None = None,
    ) -> None:
        super().__init__(find_driver())
        self._today = today
        self._form = form
        self._practice = context
        self._clock = clock
        self._folder = folder
        self.paths: tuple[Path | None, ...] = ()
        self.unkept: tuple[Path, ...] = ()
        self.trouble: CoachError | None = None

    def on_mount(self) -> None:
        """Open the first screen."""
        if self._practice is None and self._today is not None:
            self.push_screen(self._today, lambda left: self._set_up() if left else self.exit(0))
            return
        if self._practice is None:
            self._set_up()
            return
        screen = PractiseScreen(self._practice, clock=self._clock)

        def back(left: bool | CoachError | None) -> None:
            if screen.conductor is not None:
                self.paths, self.unkept = tuple(screen.conductor.takes.paths), tuple(screen.conductor.takes.unkept)
            if isinstance(left, CoachError):
                self.trouble = left
            elif left:
                self._set_up()
                return
            self.exit(0)

        self.push_screen(screen, back)

    def _set_up(self) -> None:
        from tempo_coach.ui.practice.setup import SetupScreen  # not before it is seen

        self.push_screen(SetupScreen(self._form, folder=self._folder))


class AloneApp(BaseApp):
    """The program of one screen, and of what it opens itself."""

    def __init__(self, screen: Screen[None]) -> None:
        super().__init__()
        self._first = screen

    def on_mount(self) -> None:
        """Open the screen; whoever goes back from it leaves."""
        self.push_screen(self._first, lambda _: self.exit(0))
