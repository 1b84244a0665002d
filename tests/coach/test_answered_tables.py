"""What was said of a table's columns is kept for its header, in a file that people can mend."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest

from tempo_coach.coach import keep_answer, read_answered
from tempo_coach.coach.answered_tables import FILE_NAME, find_answer
from tempo_coach.reasons import Why
from tests.refused import refused

if TYPE_CHECKING:
    from pathlib import Path

    from tempo_coach.observe.trace.trace import Trace


def write(path: Path, header: str, *, size: float = 0.5) -> Path:
    time = np.arange(400) / 50
    angle = 2 * np.pi * time
    rows = np.column_stack([time, size * np.sin(angle), 0.05 * np.cos(angle), -size * np.cos(angle)])
    np.savetxt(path, rows, delimiter=",", header=header, comments="", fmt="%.5f")
    return path


def units(trace: Trace) -> set[tuple[str, str]]:
    return {(channel.quantity, channel.unit) for channel in trace.channels}


def test_an_answer_is_used_for_every_table_with_the_same_header(tmp_path: Path) -> None:
    first, second = (write(tmp_path / name, "t,x,y,z") for name in ("a.csv", "b.csv"))
    with refused("nothing says what x, y and z are"):
        read_answered(first, folder=tmp_path)
    keep_answer(first, "rotation", "deg/s", folder=tmp_path)
    read = read_answered(second, folder=tmp_path)
    assert units(read) == {("rotation", "rad/s")}
    assert read.notes[-1].code is Why.AS_ANSWERED
    other = write(tmp_path / "c.csv", "time,x,y,z")
    with refused("nothing says what x, y and z are"):
        read_answered(other, folder=tmp_path)


def test_what_is_said_now_comes_before_what_was_said_then(tmp_path: Path) -> None:
    table = write(tmp_path / "a.csv", "t,x,y,z")
    keep_answer(table, "rotation", "deg/s", folder=tmp_path)
    assert units(read_answered(table, units={"position": "m"}, folder=tmp_path)) == {("position", "m")}


def test_a_unit_that_nobody_knows_is_said_with_the_file(tmp_path: Path) -> None:
    table = write(tmp_path / "a.csv", "t,x,y,z")
    file = keep_answer(table, "position", "furlong", folder=tmp_path)
    with refused("expected a unit of position") as caught:
        read_answered(table, folder=tmp_path)
    assert caught.value.where == str(file)


def test_a_header_that_says_it_asks_no_answer(tmp_path: Path) -> None:
    table = write(tmp_path / "a.csv", "t,x (m),y (m),z (m)")
    keep_answer(table, "rotation", "deg/s", folder=tmp_path)
    assert units(read_answered(table, folder=tmp_path)) == {("position", "m")}


def test_a_second_answer_stands_for_the_first_and_others_stay(tmp_path: Path) -> None:
    odd = 't,"x ""left""",y\x7f,z ü'
    tables = [write(tmp_path / f"{k}.csv", header) for k, header in enumerate(("t,x,y,z", odd))]
    for table, answer in (
        (tables[0], ("position", "cm")),
        (tables[1], ("position", "mm")),
        (tables[0], ("acceleration", "g")),
    ):
        file = keep_answer(table, *answer, folder=tmp_path)
    assert file.read_text(encoding="utf-8").count("[[table]]") == 2
    assert find_answer(["t", "x", "y", "z"], tmp_path) == ("acceleration", "g")
    assert 'unit = "acceleration=g"' in file.read_text(encoding="utf-8")


@pytest.mark.parametrize(
    "text", ["[[table]]\nheader = 1", "table = [3]", "table = 3", "=", '[[table]]\nheader = ["t"]\n']
)
def test_a_file_that_somebody_broke_is_said_and_not_overwritten(text: str, tmp_path: Path) -> None:
    table = write(tmp_path / "a.csv", "t,x,y,z")
    (tmp_path / FILE_NAME).write_text(text, encoding="utf-8")
    with refused("then you are asked again"):
        read_answered(table, folder=tmp_path)
    with refused("then you are asked again"):
        keep_answer(table, "position", "m", folder=tmp_path)
    assert (tmp_path / FILE_NAME).read_text(encoding="utf-8") == text
