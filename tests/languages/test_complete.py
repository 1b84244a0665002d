"""Every complete language has every sentence of the program, and every translation has all that its sentence has."""

from __future__ import annotations

import re
from functools import cache
from pathlib import Path

import pytest

from tempo_coach.languages.__main__ import ROOT, TERMS
from tempo_coach.languages.catalogue import FOLDER, TEXT, list_languages, read_text
from tempo_coach.languages.extraction import find_in_code, find_in_template, find_sentences
from tempo_coach.languages.kept_places import find_places, find_wrong

LANGUAGES = [code for code in list_languages() if code != "en"]


@pytest.fixture(scope="module")
def sentences():
    return list(find_sentences(ROOT))


@cache
def said_in(code):
    text = Path(FOLDER, code, TEXT).read_text(encoding="utf-8")
    return {tuple(key.split("\0")): tuple(said.split("\0")) for key, said in read_text(text).items() if key}


def test_the_program_has_sentences_of_all_its_parts(sentences):
    assert len({each.text for each in sentences}) > 3000
    files = {each.file.split("/")[1] for each in sentences}
    assert files >= {"cli", "ui", "report", "coach", "languages"}


@pytest.mark.parametrize("code", LANGUAGES)
def test_a_language_says_everything(code, sentences):
    asked = {(each.text,) if isinstance(each.text, str) else each.text for each in sentences}
    missing = asked - set(said_in(code))
    assert not missing, sorted(map(str, missing))[:20]


def test_what_a_command_says_is_looked_up_as_it_stands(sentences):
    said = re.compile(r'\bsay\("([^"]+)"\)')
    lines = [line for path in Path(ROOT, "tempo_coach/cli").rglob("*.py") for line in said.findall(path.read_text())]
    assert len(lines) > 2 and set(lines) <= {each.text for each in sentences}


@pytest.mark.parametrize("code", LANGUAGES)
def test_a_translation_has_all_that_its_sentence_has(code):
    wrong = [(key, said, lacking) for key, said in said_in(code).items() if (lacking := find_wrong(key, said))]
    assert not wrong


@pytest.mark.parametrize("code", LANGUAGES)
def test_the_terms_of_the_trade_are_in_a_glossary_that_says_which_are_our_own(code):
    rows = re.findall(r"^\| ([^|]+) \| ([^|]+) \| ([^|]+) \|$", Path(FOLDER, code, TERMS).read_text(), re.MULTILINE)
    assert len(rows) >= 60 + 1
    assert {kind.strip() for _, _, kind in rows[1:]} == {"common practice", "our own choice"}


@pytest.mark.parametrize(
    ("form", "places"),
    [("{a} of {b:.1f}", ["a", "b:.1f"]), ("{} {}", ["0", "1"]), ("{1} {0}", ["0", "1"]), ("{x!r:.40}", ["x!r:.40"])],
)
def test_places_are_found(form, places):
    assert find_places(form) == places


@pytest.mark.parametrize(
    ("key", "translated"),
    [
        ("{a} of {b}", "{a}"),
        ("{a}", "{b}"),
        ("{a:.1f} s", "{a:.2f} s"),
        ("give --clap", "gib --klatschen an"),
        ("tempo-coach drills lists them", "tempo-coach übungen"),
        (("{number} take", "{number} takes"), ("ein Durchgang", "Durchgänge")),
    ],
)
def test_what_a_translation_lacks_is_seen(key, translated):
    assert find_wrong(key, translated)


def test_a_form_of_one_thing_may_leave_the_number_out():
    assert not find_wrong(("{number} take", "{number} takes"), ("ein Durchgang", "{number} Durchgänge"))


def test_sentences_are_found_where_they_stand():
    code = """
WORDS = {"a": "first words", "b": ("second words", lambda n: tr("third {n}", n=n)), "c": f"not {1}"}
def f(x):
    "no docstring"
    return tr("fourth" if x else "fifth") + tr_n("{number} x", "{number} xs", x) + several(x, "take") + "not this"
    tr_as("side", "back")
"""
    found = list(find_in_code(code, "tempo_coach/report/words/some.py"))
    assert set(found) == {
        *("first words", "second words", "third {n}", "fourth", "fifth"),
        "side\x04back",
        *(("{number} x", "{number} xs"), ("{number} take", "{number} takes")),
    }
    assert list(find_in_template('<h2>{{ tr("Notes") }}</h2>{{ parts.items("Small print", x) }}')) == [
        "Notes",
        "Small print",
    ]
