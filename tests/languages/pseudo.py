"""A language that nobody speaks: it shows what went through the catalogue, and what did not."""

from __future__ import annotations

import re

from tempo_coach.languages import NUMBER, PERCENT, Language

#: Letters of the pseudo-language: as many as English has, each one column wide and none of ASCII.
_LETTERS = {chr(97 + k): chr(0x250 + k) for k in range(26)} | {chr(65 + k): chr(0x10D0 + k) for k in range(26)}
#: What of a form is no word: places of all kinds.
_PLACES = re.compile(r"(\{[^}]*\}|%\([a-z]+\)s)")
#: A word that was said in English.
_ENGLISH = re.compile(r"[A-Za-z][a-z’']{2,}")


def _mark(text: str, longer: float) -> str:
    if text in (NUMBER, PERCENT):
        return text
    parts = _PLACES.split(text)
    return "".join(part if _PLACES.fullmatch(part) else _mark_words(part, longer) for part in parts)


def _mark_words(text: str, longer: float) -> str:
    def one(word: str) -> str:
        marked = "".join(_LETTERS.get(letter, letter) for letter in word)
        return marked + "ɐ" * round(longer * len(word)) if re.search("[A-Za-z]{3}", word) else marked

    return "".join(map(one, re.split(r"(\s+)", text)))


def pseudo(longer: float = 0.0) -> Language:
    """The language; its words are longer by a share of their letters."""
    return Language("pseudo", lambda key: _mark(key, longer))


def english_in(text: str, names: set[str]) -> list[str]:
    """Words of English in a text, those aside that are names, keys and units of what is shown."""
    return [word for word in _ENGLISH.findall(text) if word not in names and word.lower() not in names]
