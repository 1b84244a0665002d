"""A screen that shows the card of a take that is over already."""

from __future__ import annotations

from asyncio import to_thread
from typing import TYPE_CHECKING

from rich.text import Text

from tempo_coach import coach
from tempo_coach.live.course import begin
from tempo_coach.ui.after import FOOT_BACK, draw_after
from tempo_coach.ui.go import Done
from tempo_coach.ui.screen import STEPS, CardScreen

if TYPE_CHECKING:
    from pathlib import Path

    from textual.events import Key

    from tempo_coach.observe.onsets import Take


class LookScreen(CardScreen[None]):
    """The card of a take; Enter goes back.

    Parameters
    ----------
    take : Take
    path : Path
        Where it lies.
    """

    help_name = "after the take"

    def __init__(self, take: Take, path: Path) -> None:
        super().__init__()
        self._take = take
        self._path = path
        self._done: Done | None = None
        self._first_row = 0

    def on_mount(self) -> None:
        """Judge the take beside the screen."""
        self.run_worker(self._judge())

    def take_key(self, event: Key) -> None:
        """Scroll the cycles, or go back."""
        if event.key in ("enter", "escape"):
            self.dismiss()
            return
        self._first_row = max(0, self._first_row + STEPS.get(event.key, 0))
        self.draw()

    async def _judge(self) -> None:
        card = await to_thread(coach.judge_take, self._take)
        self._done = Done(self._take, card, self._path)
        self.draw()

    def draw_rows(self, width: int, height: int) -> list[Text]:
        """Return the card once it is there."""
        if self._done is None:
            return [Text("  Judging the take …", self._palette.text)]
        session, _ = begin(self._take.plan, stamp=0.0, hands=())
        return draw_after(
            [self._done],
            session,
            width=width,
            height=height,
            first_row=self._first_row,
            palette=self._palette,
            foot=FOOT_BACK,
            alone="broken off",
        )
