"""A screen that shows the card of a take that is over already."""

from __future__ import annotations

from asyncio import to_thread
from typing import TYPE_CHECKING, ClassVar

from rich.text import Text
from textual.screen import Screen

from tempo_coach import coach
from tempo_coach.live.session import begin
from tempo_coach.ui.after import draw_after
from tempo_coach.ui.card import Card
from tempo_coach.ui.conductor import Done
from tempo_coach.ui.help import show_help
from tempo_coach.ui.palette import find_palette
from tempo_coach.ui.practise import LEAVE_KEYS

if TYPE_CHECKING:
    from pathlib import Path

    from textual.app import ComposeResult
    from textual.binding import BindingType
    from textual.events import Key, Resize

    from tempo_coach.observe.onsets import Take


class LookScreen(Screen[None]):
    """The card of a take; Enter goes back.

    Parameters
    ----------
    take : Take
    path : Path
        Where it lies.
    """

    BINDINGS: ClassVar[list[BindingType]] = [("ctrl+q,ctrl+c", "app.quit", "Leave")]

    def __init__(self, take: Take, path: Path) -> None:
        super().__init__()
        self._take = take
        self._path = path
        self._palette = find_palette()
        self._done: Done | None = None
        self._first_row = 0

    def compose(self) -> ComposeResult:
        """Make the one widget."""
        yield Card(self._palette.text)

    def on_mount(self) -> None:
        """Judge the take beside the screen."""
        self.styles.background = self._palette.card or "ansi_default"
        self.run_worker(self._judge())

    def on_resize(self, _event: Resize) -> None:
        """Fit the new size."""
        self._draw()

    def on_key(self, event: Key) -> None:
        """Scroll the cycles, or go back."""
        if event.key in LEAVE_KEYS:
            return
        event.stop()
        if event.key == "enter":
            self.dismiss()
            return
        if event.key == "f1":
            show_help(self.app, "after the take")
            return
        self._first_row = max(
            0, self._first_row + {"up": -1, "down": 1, "pageup": -10, "pagedown": 10}.get(event.key, 0)
        )
        self._draw()

    async def _judge(self) -> None:
        card = await to_thread(coach.judge_take, self._take)
        self._done = Done(self._take, card, self._path)
        self._draw()

    def _draw(self) -> None:
        width, height = self.size
        if self._done is None:
            self.query_one(Card).show([Text("  Judging the take …", self._palette.text)])
            return
        session, _ = begin(self._take.plan, stamp=0.0, hands=())
        rows = draw_after(
            [self._done],
            session,
            width=width,
            height=height,
            first_row=self._first_row,
            palette=self._palette,
            foot=" Enter: back    ↑↓: cycles    F1: help    Ctrl+Q: leave",
        )
        self.query_one(Card).show(rows)
