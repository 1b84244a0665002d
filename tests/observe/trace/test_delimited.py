"""The text of a table to columns: marks between cells, names, units below them, numbers and words."""

from pathlib import Path

import numpy as np

from tempo_coach.observe.trace.delimited import MOST_COLUMNS, MOST_ROWS, load_text, split_columns
from tempo_coach.report.words.errors.forms import first_names
from tempo_coach.resources import MOST_MIB
from tests.refused import refused


def test_files_that_are_no_tables_are_told_before_they_are_read(tmp_path: Path) -> None:
    picture = tmp_path / "picture.csv"
    picture.write_bytes(b"\x89PNG\r\n\x1a\n" + bytes(100))
    with refused("picture"):
        load_text(picture)
    with refused("no such file"):
        load_text(tmp_path / "none.csv")
    with refused("folder"):
        load_text(tmp_path)
    huge = tmp_path / "huge.csv"
    with huge.open("wb") as file:
        file.truncate((MOST_MIB["readings"] + 1) * 2**20)
    with refused("up to 64 MiB, found 65"):
        load_text(huge)


def test_names_units_numbers_and_words_are_told_apart() -> None:
    found = split_columns("time;x;x;mark\ns;cm;cm;-\n0,5;1;2;up\n1,5;;inf;down\n", "t")
    assert found.names == ["time", "x", "x 2", "mark"]
    assert found.units == ["s", "cm", "cm", "-"]
    assert found.words == {3: ["up", "down"]}
    np.testing.assert_array_equal(found.numbers[:, :3], [[0.5, 1, 2], [1.5, np.nan, np.nan]])
    assert np.isnan(found.numbers[:, 3]).all()


def test_a_quick_and_a_careful_reading_give_the_same_numbers() -> None:
    rows = "1.5,-2e3\n.25,+4\n"
    quick, careful = split_columns(f"a,b\n{rows}", "t"), split_columns(f"a,b\n{rows},\n", "t")
    np.testing.assert_array_equal(quick.numbers, [[1.5, -2000], [0.25, 4]])
    np.testing.assert_array_equal(careful.numbers[:2], quick.numbers)
    assert np.isnan(careful.numbers[2]).all()


def test_more_columns_or_rows_than_any_record_has_are_refused_before_they_are_split() -> None:
    header, row = ",".join(f"c{k}" for k in range(MOST_COLUMNS + 1)), ",".join("1" for _ in range(MOST_COLUMNS + 1))
    with refused("expected up to 2,000 columns, found 2,001"):
        split_columns(f"{header}\n{row}\n{row}\n", "t")
    with refused("expected up to 3,600,000 rows, found"):
        split_columns("t,x\n" + "1,2\n" * MOST_ROWS, "t")


def test_names_of_many_columns_do_not_fill_the_screen() -> None:
    assert first_names(["a", "b"]) == "a, b"
    assert first_names([f"c{k}" for k in range(1000)]).endswith("c11 and 988 more")
