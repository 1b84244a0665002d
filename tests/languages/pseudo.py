"""A language that nobody speaks: it shows what went through the catalogue, and what did not."""

from __future__ import annotations

import re
from functools import cache
from typing import TYPE_CHECKING

from tempo_coach.languages import NUMBER, PERCENT, Language
from tempo_coach.languages.__main__ import ROOT
from tempo_coach.languages.extraction import find_sentences

if TYPE_CHECKING:
    from collections.abc import Collection

#: Letters of the pseudo-language: as many as English has, each one column wide and none of ASCII.
_LETTERS = {chr(97 + k): chr(0x250 + k) for k in range(26)} | {chr(65 + k): chr(0x10D0 + k) for k in range(26)}
#: What of a form is no word: places of all kinds, and what is typed as it stands.
_KEPT = re.compile(r"(\{[^}]*\}|%\([a-z]+\)s)")
#: A word that was said in English.
_ENGLISH = re.compile(r"[A-Za-z](?:[a-z]|['’](?=[a-z])){2,}")
#: What is typed or named as it stands: commands with their options, choices of an option, files and their places.
_TYPED = re.compile(
    r"(?m): tempo-coach .*$|tempo-coach( [a-z]+)?|--?[a-z][a-z-]*|\{[a-z,0-9]+\}|\S*/\S*|[\w.]+\.[a-z0-9]{2,6}\b"
    r"|\b[a-z]+=[a-z]+|\b[a-z]+_[a-z_]+"
)


@cache
def _keys() -> frozenset[str]:
    return frozenset(each.text if isinstance(each.text, str) else "\0".join(each.text) for each in find_sentences(ROOT))


def _mark(text: str, longer: float) -> str | None:
    if text in (NUMBER, PERCENT):
        return text
    if text not in _keys():
        return None  # it would be English in every language
    return "\0".join(
        "".join(part if _KEPT.fullmatch(part) else _mark_words(part, longer) for part in _KEPT.split(form))
        for form in text.split("\0")
    )


def _mark_words(text: str, longer: float) -> str:
    def one(word: str) -> str:
        marked = "".join(_LETTERS.get(letter, letter) for letter in word)
        return marked + "ɐ" * round(longer * len(word)) if re.search("[A-Za-z]{3}", word) else marked

    return "".join(map(one, re.split(r"(\s+)", text)))


def pseudo(longer: float = 0.0) -> Language:
    """The language; its words are longer by a share of their letters, and what no catalogue has stays English."""
    return Language("pseudo", lambda key: _mark(key, longer))


def english_in(text: str, names: Collection[str]) -> list[str]:
    """Words of English in a text, those aside that are names, keys and units, or typed as they stand."""
    words = _ENGLISH.findall(_TYPED.sub(" ", text))
    return [word for word in words if word not in names and word.lower() not in names]
