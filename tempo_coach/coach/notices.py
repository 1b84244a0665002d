"""News of what runs, and of each step that was taken, told in words."""

from __future__ import annotations

from typing import TYPE_CHECKING

from tempo_coach.live.notices import Notice
from tempo_coach.report.words.live import say_notice
from tempo_coach.report.words.reasons import say_step

if TYPE_CHECKING:
    from tempo_coach.reasons import Note


def tell(news: Notice | Note | None) -> str:
    """Return news as a sentence; empty where there is none."""
    return say_notice(news.code, news.arguments) if isinstance(news, Notice) else say_step(news)
