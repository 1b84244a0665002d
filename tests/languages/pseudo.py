"""A language that nobody speaks: it shows what went through the catalogue, and what did not."""

from __future__ import annotations

import re
from gettext import NullTranslations

from tempo_coach.languages import NUMBER, PERCENT, Language

#: Letters of the pseudo-language: as many as English has, each one column wide and none of ASCII.
_LETTERS = {chr(97 + k): chr(0x250 + k) for k in range(26)} | {chr(65 + k): chr(0x10D0 + k) for k in range(26)}
#: What of a form is no word: places of all kinds.
_PLACES = re.compile(r"(\{[^}]*\}|%\([a-z]+\)s)")
#: A word that was said in English.
_ENGLISH = re.compile(r"[A-Za-z][a-z’']{2,}")


class _Marked(NullTranslations):
    def __init__(self, longer: float = 0.0) -> None:
        super().__init__()
        self._longer = longer

    def gettext(self, message: str) -> str:
        if message in (NUMBER, PERCENT):
            return message
        parts = _PLACES.split(message)
        return "".join(part if _PLACES.fullmatch(part) else self._mark(part) for part in parts)

    def ngettext(self, msgid1: str, msgid2: str, n: int) -> str:
        return self.gettext(msgid1 if n == 1 else msgid2)

    def _mark(self, text: str) -> str:
        words = re.split(r"(\s+)", text)
        return "".join(self._word(word) for word in words)

    def _word(self, word: str) -> str:
        marked = "".join(_LETTERS.get(letter, letter) for letter in word)
        return marked + "ɐ" * round(self._longer * len(word)) if re.search("[A-Za-z]{3}", word) else marked


def pseudo(longer: float = 0.0) -> Language:
    """The language; its words are longer by a share of their letters."""
    return Language("pseudo", _Marked(longer))


def english_in(text: str, names: set[str]) -> list[str]:
    """Words of English in a text, those aside that are names, keys and units of what is shown."""
    return [word for word in _ENGLISH.findall(text) if word not in names and word.lower() not in names]
