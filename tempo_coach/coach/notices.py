"""News of what runs, of each step that was taken and of a take, told in words."""

from __future__ import annotations

from tempo_coach.errors import CoachError
from tempo_coach.live.notices import Notice
from tempo_coach.reasons import Reason
from tempo_coach.report.words.live import say_notice
from tempo_coach.report.words.reasons import say_news

#: A message to a person, as a code with arguments or as an error.
News = Notice | Reason | CoachError


def tell(*several: News | None) -> str:
    """Return news as sentences; empty where there are none."""
    said = (say_notice(news.code, news.arguments) if isinstance(news, Notice) else say_news(news) for news in several)
    return " ".join(filter(None, said))
