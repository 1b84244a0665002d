"""Text as it is shown: nothing of it is obeyed, no encoding lacks a sign, no cell is a formula."""

import csv
import io
import re
import unicodedata
from xml.dom import minidom

import pytest
from hypothesis import given
from hypothesis import strategies as st
from rich.cells import cell_len

from tempo_coach.signs import IN_COLUMNS, cell, escape, in_encoding, show_controls

#: Those that terminals and redirected outputs still have.
ENCODINGS = ("cp1252", "cp437", "latin-1", "ascii", "cp850", "koi8-r", "cp932")
#: Whatever the program draws with, and letters of names.
DRAWN = "│─┃━└╶┼▀▁▂▃▄▅▆▇█▏░■□▪▲▸▼◂◆○●⠁⣿⠛…–×·°±µ“”→↑ Zoë 舞 🤸"
anything = st.text(st.characters(codec=None, exclude_categories=()), max_size=60)


@given(anything)
def test_nothing_that_a_terminal_obeys_is_left_and_each_control_is_one_sign(text):
    shown = show_controls(text)
    assert len(shown) == len(text)
    assert not any(unicodedata.category(sign) in ("Cc", "Cs", "Zl", "Zp") for sign in shown)
    # explicit formatting characters of Unicode Standard Annex 9, table 1
    assert not re.search("[\u202a-\u202e\u2066-\u2069]", shown)


def test_a_control_is_shown_by_its_picture():
    # Unicode, block "Control Pictures": U+241B stands for U+001B, U+2421 for U+007F
    assert show_controls("a\x1b[31mb\x7f\x9b2J\r\n\t", keep="\n\t") == "a␛[31mb␡�2J␍\n\t"


@pytest.mark.parametrize("encoding", ENCODINGS)
def test_every_sign_has_a_plain_one_where_an_encoding_lacks_it(encoding):
    shown = in_encoding(DRAWN, encoding)
    assert shown.encode(encoding).decode(encoding) == shown
    for sign in DRAWN.split(" ", maxsplit=1)[0]:
        assert in_encoding(sign, encoding).strip() not in ("", "?"), sign


@given(anything, st.sampled_from([*ENCODINGS, "utf-8", "utf-16"]))
def test_whatever_is_said_can_be_written(text, encoding):
    in_encoding(text, encoding).encode(encoding)


def test_what_an_encoding_has_stays_as_it_is():
    assert in_encoding(DRAWN, "utf-8") == DRAWN
    assert in_encoding("Zoë │█", "cp437") == "Zoë │█"
    assert in_encoding("Zoë │█", None) == "Zoë │█"


def test_a_column_stays_where_it_was_behind_a_name_that_was_cut_off():
    assert in_encoding("Maximil…  12 ms\nhearing …", "ascii") == "Maximil.  12 ms\nhearing ..."


@given(st.text(st.sampled_from(DRAWN), max_size=30))
def test_on_a_screen_a_plain_sign_takes_as_many_columns(text):
    plain = text.encode("ascii", IN_COLUMNS).decode()
    assert cell_len(plain) == cell_len(text)


@given(anything)
def test_a_page_is_whole_whatever_a_title_holds(text):
    whole = f'<svg title="{escape(text)}">{escape(text)}</svg>'
    # U+FFFE and U+FFFF are no characters of XML (its production 2)
    minidom.parseString(re.sub("[\ufffe\uffff]", "", whole).encode())


@pytest.mark.parametrize("text", ["=1+1", "+cmd", "-x", "@SUM(A1)", "\t=1", "＝1", "=HYPERLINK(1)", "-1+1"])
def test_a_cell_is_no_formula(text):
    assert cell(text).startswith("'")
    assert cell(text)[1:] == text


@pytest.mark.parametrize("text", ["Ada", "-12.5", "+3", "1e-05", "-1e-05", "", "2031-05-04", "right=left"])
def test_a_name_and_a_number_stay_as_they_are(text):
    assert cell(text) == text


@given(anything)
def test_a_cell_survives_a_table(text):
    table = io.StringIO()
    csv.writer(table).writerow([cell(text), "1"])
    assert next(csv.reader(io.StringIO(table.getvalue(), newline="")))[1] == "1"
