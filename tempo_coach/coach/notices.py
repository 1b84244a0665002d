"""Notices of what runs, told in words."""

from __future__ import annotations

from typing import TYPE_CHECKING

from tempo_coach.report.words.live import say_notice

if TYPE_CHECKING:
    from tempo_coach.live.notices import Notice


def tell(notice: Notice | None) -> str:
    """Return a notice as a sentence; empty where there is none."""
    return "" if notice is None else say_notice(notice.code, notice.arguments)
