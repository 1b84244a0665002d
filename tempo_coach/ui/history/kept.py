"""A take of the history on the screen, or two side by side."""

from __future__ import annotations

from asyncio import to_thread
from typing import TYPE_CHECKING, ClassVar

from rich.text import Text

from tempo_coach.coach import archiving as keep
from tempo_coach.coach.practising.practice import FinishedTake
from tempo_coach.languages import tr
from tempo_coach.live.practice.course import begin
from tempo_coach.ui.history.rows import draw_comparison
from tempo_coach.ui.practice.after import draw_after
from tempo_coach.ui.screen import BACK, HELP, LEAVE, CardScreen, Page, scroll_keys
from tempo_coach.ui.text_rows import bar

if TYPE_CHECKING:
    from textual.binding import BindingType

    from tempo_coach.coach.looking_back import Kept
    from tempo_coach.score.scorecard import Scorecard


class KeptScreen(CardScreen[None]):
    """One take of the history as it looked after it, or two side by side; Enter goes back.

    Parameters
    ----------
    kept : tuple of Kept
        The take, behind the one before it where there is one; or two.
    together : bool
        Whether they are to be seen side by side.
    """

    BINDINGS: ClassVar[list[BindingType]] = [*BACK, *scroll_keys("cycles"), HELP, LEAVE]

    def __init__(self, kept: tuple[Kept, ...], *, together: bool = False) -> None:
        super().__init__()
        self._kept = kept
        self._together = together
        self.help_name = "two takes" if together else "after the take"
        self._cards: list[Scorecard] = []

    def on_mount(self) -> None:
        """Judge the takes beside the screen."""
        self.run_worker(self._judge())

    def draw_page(self, width: int, height: int) -> Page:
        """Return the take, or both."""
        if not self._cards:
            return Page([Text(tr("  Judging …"), self._palette.text)])
        if self._together:
            pair = [(kept.row, judged) for kept, judged in zip(self._kept, self._cards, strict=True)]
            return Page(draw_comparison(pair, width=width, height=height, palette=self._palette))
        kept = self._kept[-1]
        session, _ = begin(kept.take.plan, stamp=0.0, hands=())
        page = draw_after(
            [
                FinishedTake(each.take, judged, None, archived=(each.row.number, each.row.athlete))
                for each, judged in zip(self._kept, self._cards, strict=True)
            ],
            session,
            width=width,
            height=height,
            first_row=self._first_row,
            palette=self._palette,
        )
        when = kept.row.begun[:16].replace("T", " ")
        page.rows[0] = bar(
            f" {tr(kept.row.title)}",
            tr("take {number}, {when} ", number=kept.row.number, when=when),
            width,
            self._palette,
        )
        return page

    async def _judge(self) -> None:
        self._cards = [await to_thread(keep.judge_kept, kept) for kept in self._kept]
        self.draw()
