"""The text of a table, whoever wrote it: encodings, comments, quotes, words of its header in five languages."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from tempo_coach.observe.table_text import (
    HAND_WORDS,
    find_column,
    find_hand,
    find_time,
    guess_encoding,
    load_text,
    match_hand,
    read_rows,
    split_cells,
)
from tests.refused import refused

if TYPE_CHECKING:
    from pathlib import Path

TEXT = "Zeit (s);Höhe;señal\n1,5;2;é\n"


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "cp1252", "utf-16", "utf-16-le", "utf-16-be"])
def test_text_is_read_in_whatever_it_is_encoded(tmp_path: Path, encoding: str) -> None:
    path = tmp_path / "x.csv"
    path.write_bytes(TEXT.encode(encoding))
    assert load_text(path, what="members", most_mib=1) == TEXT


@pytest.mark.parametrize("content", [b"\x89PNG\r\n\x1a\n", bytes(range(256)) * 4, b"a\x00b,c\n", b"PK\x03\x04rest"])
def test_what_is_no_text_is_told(tmp_path: Path, content: bytes) -> None:
    path = tmp_path / "x.csv"
    path.write_bytes(content)
    with refused("no text"):
        load_text(path, what="members", most_mib=1)


def test_the_letters_of_the_old_code_page_that_it_has_not_are_read_all_the_same() -> None:
    assert guess_encoding(b"\x81\xe9") == "latin-1"


def test_quotes_hold_marks_and_a_quote_that_never_ends_is_a_letter() -> None:
    assert split_cells('"a;b"; "c" ;d', ";") == ["a;b", "c", "d"]
    assert split_cells("a  b\tc", " ") == ["a", "b", "c"]


@pytest.mark.parametrize(
    ("header", "found"),
    [
        (["hand", "time"], (1, 1.0)),
        (["tempo", "time"], (1, 1.0)),
        (["tempo", "mano"], (0, 1.0)),
        (["Temps [ms]"], (0, 0.001)),
        (["date", "when"], None),
        (["time of day"], None),
    ],
)
def test_a_column_of_times_is_known_by_its_words(header: list[str], found: tuple[int, float] | None) -> None:
    assert find_time(header) == found


def test_hands_are_known_by_their_words() -> None:
    assert find_column(["Zeit", " SEITE "], HAND_WORDS) == 1
    assert find_column(["Zeit"], HAND_WORDS) is None
    assert [
        find_hand(name) for name in ("muñeca derecha", "LeftWrist_x", "polso sinistro", "L", "club", "leftover")
    ] == [
        "right",
        "left",
        "left",
        "left",
        None,
        None,
    ]
    assert match_hand("Gauche", ("right", "left")) == "left"
    assert match_hand("Gauche", ("rope",)) == "Gauche"
    assert match_hand("links", ("links", "left")) == "links"


def test_rows_keep_the_lines_that_they_stand_in() -> None:
    rows = read_rows(
        '# tapped\nseen by;the coach\n\ntime;hand\n1;"a\nb"\n# pause\n;\n2;c\n', where="t", what="members", most=99
    )
    assert (rows.header, rows.line) == (["time", "hand"], 4)
    assert list(rows.cells) == [(6, ["1", "ab"]), (9, ["2", "c"])]
