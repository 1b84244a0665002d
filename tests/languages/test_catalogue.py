"""A catalogue as it is read: against Babel, which reads and compiles it independently; broken ones; which is chosen."""

from __future__ import annotations

import io
import os
import re
import shutil
from datetime import date
from gettext import GNUTranslations
from pathlib import Path
from unittest.mock import ANY

import pytest
from babel.dates import get_month_names
from babel.messages.mofile import write_mo
from babel.messages.pofile import read_po
from babel.numbers import format_decimal, format_percent

from tempo_coach.cli import COMMANDS, build_parser, main
from tempo_coach.languages import ENGLISH, MONTHS, Language, speak, speaking, spoken, tr, tr_n
from tempo_coach.languages.catalogue import (
    COMPILED,
    FOLDER,
    TEXT,
    compile_text,
    find_in_compiled,
    list_languages,
    read_language,
    read_text,
)
from tempo_coach.languages.choice import (
    VARIABLE,
    choose_language,
    find_language,
    keep_language,
    kept_file,
    system_languages,
)
from tempo_coach.resources import own_folders

LANGUAGES = [code for code in list_languages() if code != "en"]


@pytest.fixture(autouse=True)
def in_english_again():
    """Leave nothing spoken behind."""
    yield
    speak(ENGLISH)


@pytest.mark.parametrize("code", LANGUAGES)
def test_what_is_compiled_here_says_the_same_as_what_babel_compiles(code):
    path = Path(FOLDER, code, TEXT)
    with path.open("rb") as file:
        theirs = read_po(file, locale=code)
    out = io.BytesIO()
    write_mo(out, theirs)
    text = path.read_text(encoding="utf-8")
    ours = compile_text(text)
    out.seek(0)
    expected = GNUTranslations(out)
    # what gettext reads of ours is what it reads of theirs, and what is found in ours without reading all of it too
    assert len(expected._catalog) > 2000
    assert GNUTranslations(io.BytesIO(ours))._catalog == expected._catalog | {"": ANY}
    find, language = find_in_compiled(ours), Language(code, read_text(text).get)
    for key, said in read_text(text).items():
        assert find(key) == said
        if key and "\0" not in key:
            assert language.look_up(key) == expected.gettext(key)
    assert find("this is no key") is None and find("zzz") is None and find("\0") is None


@pytest.mark.parametrize("code", LANGUAGES)
@pytest.mark.parametrize("value", [0.0, -1.25, 1234.5, 1234567.0, 0.125])
def test_numbers_are_written_as_babels_data_have_them(code, value):
    with speaking(read_language(code)):
        assert tr("{value:,.2f}", value=value) == format_decimal(value, "#,##0.00", locale=code)
        assert tr("{value:.1%}", value=value) == format_percent(value, "#0.0%", locale=code).replace(
            "%", format_percent(0.5, locale=code).removeprefix("50")
        )
        assert tr("{value} {name:>3}", value=12, name="x.y") == "12 x.y"
        months = get_month_names("wide", locale=code)
        assert [tr("{day:%B}", day=date(2031, k + 1, 4)) for k in range(12)] == list(months.values())
    assert tr("{value:,.2f}", value=value) == f"{value:,.2f}"
    assert tr("{day:%B}", day=date(2031, 3, 4)) == MONTHS[2]


def test_a_plural_has_the_form_of_its_number():
    with speaking(read_language("de")):
        assert [tr_n("{number} cycle", "{number} cycles", k) for k in (0, 1, 2)] == ["0 Zyklen", "1 Zyklus", "2 Zyklen"]
    assert tr_n("{number} cycle", "{number} cycles", 1) == "1 cycle"


@pytest.mark.parametrize(
    "text",
    [
        "",
        "no catalogue",
        'msgid "a"\nmsgstr "b"\n',
        'msgid ""\nmsgstr "Language: xx\\n"\n\nmsgid "a\nmsgstr "b"\n',
        'msgid ""\nmsgstr "Plural-Forms: nplurals=2; plural=import os;\\n"\n',
        '"a"\nmsgid ""\nmsgstr "x"\n',
    ],
)
def test_a_broken_catalogue_is_refused_and_english_spoken(text, tmp_path, monkeypatch):
    (tmp_path / "xx").mkdir()
    (tmp_path / "xx" / TEXT).write_text(text, encoding="utf-8")
    with pytest.raises(ValueError, match=r"catalogue|[Pp]lural|token|forms"):
        read_language("xx", str(tmp_path))
    whole = compile_text(Path(FOLDER, "de", TEXT).read_text(encoding="utf-8"))
    (tmp_path / "xx" / COMPILED).write_bytes(whole[: len(whole) // 2] if text else b"\x00\x01 none")
    os.utime(tmp_path / "xx" / TEXT, (0, 0))
    with pytest.raises(ValueError, match="catalogue"):
        read_language("xx", str(tmp_path))


def test_a_broken_catalogue_is_said_once_and_english_spoken(monkeypatch, capsys):
    def fail(*_):
        raise ValueError("broken")

    monkeypatch.setattr("tempo_coach.languages.catalogue.read_language", fail)
    assert main(["drills", "--language", "de"]) == 0
    said = capsys.readouterr()
    assert said.err.count("'de'") == 1 and "install" in said.err and "Clubs: forward mills" in said.out


def test_a_text_that_is_newer_than_what_was_compiled_of_it_is_read(tmp_path):
    shutil.copytree(Path(FOLDER, "de"), tmp_path / "de")
    text, compiled = tmp_path / "de" / TEXT, tmp_path / "de" / COMPILED
    compiled.write_bytes(compile_text(text.read_text(encoding="utf-8")))
    os.utime(text, (0, 0))
    assert read_language("de", str(tmp_path)).look_up("help") == "Hilfe"
    text.write_text(text.read_text(encoding="utf-8").replace('msgstr "Hilfe"', 'msgstr "Beistand"'), encoding="utf-8")
    assert read_language("de", str(tmp_path)).look_up("help") == "Beistand"


def test_a_language_is_chosen_by_option_variable_set_up_and_system_in_this_order(tmp_path, monkeypatch):
    kept = str(tmp_path / "none yet" / "language")
    for name in (VARIABLE, "LC_ALL", "LC_MESSAGES", "LANGUAGE"):
        monkeypatch.delenv(name, raising=False)
    monkeypatch.setenv("LANG", "de_AT.UTF-8")
    assert choose_language([], kept) == "" and spoken().code == "de"
    keep_language("en", kept)
    assert choose_language([], kept) == "" and spoken().code == "en"
    monkeypatch.setenv(VARIABLE, "de")
    assert choose_language([], kept) == "" and spoken().code == "de"
    assert choose_language(["drills", "--language", "en"], kept) == "" and spoken().code == "en"
    assert choose_language(["--language=de-CH"], kept) == "" and spoken().code == "de"
    assert choose_language(["--language", "klingon"], kept) == "klingon" and spoken().code == "en"


def test_the_system_says_its_languages_as_gettext_has_it():
    assert list(system_languages({"LANG": "it_IT.UTF-8"})) == ["", "it_IT.UTF-8"]
    assert list(system_languages({"LANG": "it_IT", "LANGUAGE": "pt_BR:de"})) == ["pt_BR", "de", "it_IT"]
    assert list(system_languages({"LC_ALL": "C", "LANG": "de_DE", "LANGUAGE": "de"})) == ["C"]
    assert find_language("xx_YY") is None


def test_where_the_choice_is_kept_is_the_folder_of_her_data():
    assert Path(kept_file()).parent == own_folders().user_data_path


def test_a_language_that_is_not_there_is_said_once_and_the_rest_is_english(capsys):
    assert main(["drills", "--language", "tlh"]) == 0
    said = capsys.readouterr()
    assert said.err.count("tlh") == 1 and "de" in said.err
    assert "Clubs: forward mills" in said.out


def test_data_stays_english_whatever_is_spoken(capsys):
    assert main(["drills", "show", "clubs_mills", "--json", "--language", "de"]) == 0
    assert '"title": "Clubs: forward mills' in capsys.readouterr().out
    assert main(["drills", "show", "clubs_mills", "--language", "de"]) == 0
    assert "Keulen: Mühlen vorwärts" in capsys.readouterr().out
    assert main(["drills", "show", "nothing_like_it", "--language", "de"]) == 1
    assert "keine Übung dieses Namens" in capsys.readouterr().err


@pytest.mark.parametrize("code", LANGUAGES)
def test_commands_are_called_what_they_are_typed_as(code):
    with speaking(read_language(code)):
        said = build_parser(()).format_help()
    assert [name for name in COMMANDS if f"\n    {name} " not in said] == []


def test_a_toss_is_told_in_one_language_and_in_columns(capsys):
    assert main(["--language", "de", "toss", "--counts", "3", "--tempo", "100"]) == 0
    told = capsys.readouterr().out
    assert "Grad flacher" in told and not re.search(r"degree|early|Before it is tossed", told)
