"""What a phone's page says: in the language of the session, nothing of it as markup."""

from __future__ import annotations

import json
import re
from html.parser import HTMLParser
from pathlib import Path

import pytest

pytest.importorskip("aiohttp")
pytest.importorskip("cryptography")

from tempo_coach.languages import speaking
from tempo_coach.languages.catalogue import read_language
from tempo_coach.live.phones.hub import Hub
from tempo_coach.live.phones.page_words import PAGE_WORDS, say_page
from tempo_coach.live.phones.server import PAGES, Server
from tests.languages.pseudo import english_in, pseudo


class Page(HTMLParser):
    """Texts of a page by the elements that they stand in, and its language."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.texts: dict[str, list[str]] = {}
        self.tags = ["document"]
        self.language = ""
        self.feed(text)

    def handle_starttag(self, tag, attrs):
        self.tags.append(tag)
        self.language = dict(attrs).get("lang") or self.language

    def handle_data(self, data):
        if data.strip():
            self.texts.setdefault(self.tags[-1], []).append(data.strip())


def page_of(words: dict[str, str]) -> Page:
    return Page(Server(Hub(), "", lambda _: None, words)._files["index.html"].decode())


def test_a_page_says_everything_in_the_language_of_the_session():
    with speaking(pseudo()):
        page = page_of(say_page())
    shown = " ".join(text for tag in ("p", "button") for text in page.texts[tag])
    assert len(shown) > 100 and not english_in(shown, ())
    for code in ("de", "it"):
        with speaking(read_language(code)):
            page = page_of(said := say_page())
        assert page.language == code and page.texts["button"] == [said["measure"], said["start"], said["end"]]


def test_what_moves_on_the_page_says_nothing_of_its_own():
    code = re.sub(r"(?<!:)//.*", "", (PAGES / "page.js").read_text(encoding="utf-8"))
    told = [re.sub(r"\$\{.*?\}", "", text) for text in re.findall(r"""["`]([^"`\n]*)["`]""", code)]
    assert [text for text in told if re.search(r"[A-Za-z]{2,} [a-z]{2,}", text)] == ["use strict"]
    asked = set(re.findall(r"\bwords\.(\w+)", code)) | set(
        re.findall(r"\{(\w+)\}", Path(PAGES, "index.html").read_text())
    )
    assert asked - {"words", "language"} == set(PAGE_WORDS)


def test_no_word_is_markup_whatever_a_catalogue_holds():
    evil = "</script><script>alert(1)</script><b onclick='x'>&\u2028"
    page = page_of(dict.fromkeys(say_page(), evil))
    assert page.tags.count("script") == 2 and "b" not in page.tags
    assert json.loads(page.texts["script"][0]) == dict.fromkeys(say_page(), evil)
