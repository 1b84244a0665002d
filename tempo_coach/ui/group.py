"""The group screen: who is early, who is late, eight by eight, and what else the card of a group tells."""

from __future__ import annotations

from typing import TYPE_CHECKING

from tempo_coach.ui.group_card import VIEWS, draw_group
from tempo_coach.ui.screen import STEPS, CardScreen

if TYPE_CHECKING:
    from rich.text import Text
    from textual.events import Key

    from tempo_coach.score.group_card import GroupCard


class GroupScreen(CardScreen[None]):
    """The card of a group; Tab goes on to what else there is."""

    help_name = "group"

    def __init__(self, card: GroupCard) -> None:
        super().__init__()
        self._card = card
        self._view = 0
        self._first_row = 0

    def take_key(self, event: Key) -> None:
        """Go on to another view, or scroll."""
        if event.key in ("tab", "right", "shift+tab", "left"):
            self._view = (self._view + (1 if event.key in ("tab", "right") else -1)) % len(VIEWS)
            self._first_row = 0
        self._first_row = max(0, self._first_row + STEPS.get(event.key, 0))
        self.draw()

    def draw_rows(self, width: int, height: int) -> list[Text]:
        """Return what was chosen."""
        return draw_group(
            self._card,
            view=self._view,
            first_row=self._first_row,
            width=width,
            height=height,
            palette=self._palette,
        )


def open_group(card: GroupCard) -> int:
    """Open the card of a group on the screen.

    Raises
    ------
    CoachError
        If there is no terminal, or the screen ended on its own.
    """
    from tempo_coach.ui.alone import AloneApp
    from tempo_coach.ui.terminal import check_terminal, run_app

    check_terminal()
    run_app(AloneApp(GroupScreen(card)))
    return 0
