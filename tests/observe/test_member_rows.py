"""A group's onsets in one table: who, when, and with which hand; each bad row by its line."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from tempo_coach.errors import CoachError
from tempo_coach.observe.member_rows import LONGEST_NAME, TOGETHER, MemberRows, read_members
from tempo_coach.report.words.errors import hint_of, message_of
from tests.refused import refused

if TYPE_CHECKING:
    from pathlib import Path

HINT = "expected a table with a header and the columns time (s) and member"


def write(folder: Path, text: str) -> Path:
    path = folder / "Gruppe Ä 🤸.csv"
    path.write_text(text, encoding="utf-8")
    return path


@pytest.mark.parametrize("mark", [",", ";", "\t"])
def test_members_come_in_the_order_in_which_they_first_appear(tmp_path: Path, mark: str) -> None:
    lines = [
        "\ufeffTime,Member,HAND",
        "1.5,Zoë,left",
        "",
        "1.25, 李小龙 ,right",
        " , , ",
        '2,"Zoë"',
        "1e0,Zoë,left,more",
    ]
    path = write(tmp_path, "\n".join(lines).replace(",", mark))
    found = read_members(path)
    assert list(found) == ["Zoë", "李小龙"]
    assert found["Zoë"] == MemberRows((1.5, 2.0, 1.0), ("left", "", "left"), (f"{path}:2", f"{path}:6", f"{path}:7"))
    assert found["李小龙"] == MemberRows((1.25,), ("right",), (f"{path}:4",))


def test_without_a_column_member_all_rows_are_of_one(tmp_path: Path) -> None:
    found = read_members(str(write(tmp_path, "time\n1\n0.5\n")))
    assert list(found) == [TOGETHER]
    assert (found[TOGETHER].time, found[TOGETHER].hand) == ((1.0, 0.5), ("", ""))


SECONDS = "write each time in seconds, such as 12.34"


@pytest.mark.parametrize(
    ("text", "message", "line", "hint"),
    [
        ("", "the file is empty", "", HINT),
        (" \n\n", "the file is empty", "", HINT),
        ("time,member\n", "the table has no rows", "", HINT),
        ("tme,member\n1,Ada\n", "expected a column time, found tme, member", ":1", HINT),
        ("\ntme\n1\n", "expected a column time, found tme", ":2", HINT),
        ("time,member\n1,Ada\nsoon,Ada\n", "expected a time in seconds, found 'soon'", ":3", SECONDS),
        ("time,member\nnan,Ada\n", "expected a time in seconds, found 'nan'", ":2", SECONDS),
        ("time,member\n-inf,Ada\n", "expected a time in seconds, found '-inf'", ":2", SECONDS),
        ("member,time\nAda\n", "expected a time in seconds, found ''", ":2", SECONDS),
        ("time,member\n1,\n", "expected a member, found ''", ":2", HINT),
        ("time,member\n1," + "ä" * (LONGEST_NAME + 1), f"expected a member, found '{'ä' * 40}'", ":2", HINT),
        ('time,member\n1,"Ada\n', "this is no table (unexpected end of data)", "", HINT),
    ],
)
def test_what_is_no_such_table_is_said_with_its_line(
    tmp_path: Path, text: str, message: str, line: str, hint: str | None
) -> None:
    path = write(tmp_path, text)
    with pytest.raises(CoachError) as caught:
        read_members(path)
    assert (message_of(caught.value), caught.value.where, hint_of(caught.value)) == (message, f"{path}{line}", hint)


def test_the_longest_name_is_a_name_and_no_file_is_said(tmp_path: Path) -> None:
    assert list(read_members(write(tmp_path, f"time,member\n1,{'ä' * LONGEST_NAME}\n"))) == ["ä" * LONGEST_NAME]
    with refused("expected a table, but there is no such file"):
        read_members(tmp_path / "gone.csv")


def test_rows_become_onsets_of_the_plans_hands_in_order_of_time() -> None:
    rows = MemberRows((2.0, 1.0, 3.0), ("left", "right", "left"), ("a:2", "a:3", "a:4"))
    onsets = rows.onsets(("right", "left"), later=-0.5)
    assert onsets.time.tolist() == [0.5, 1.5, 2.5]
    assert onsets.hand == ("right", "left", "left")
    assert len(MemberRows((), (), ()).onsets(("left",))) == 0


def test_the_only_hand_need_not_be_named() -> None:
    rows = MemberRows((1.0, 2.0), ("", "rope"), ("a:2", "a:3"))
    assert rows.onsets(("rope",)).hand == ("rope", "rope")


@pytest.mark.parametrize(
    ("hand", "hands", "message", "hint"),
    [
        ("lfet", ("right", "left"), "expected a hand (right, left), found 'lfet'", "did you mean left?"),
        ("", ("right", "left"), "expected a hand (right, left), found ''", "give the table a column hand"),
        ("foot", ("rope",), "expected a hand (rope), found 'foot'", "give the table a column hand"),
    ],
)
def test_a_hand_that_the_plan_does_not_have_is_said_with_its_line(
    hand: str, hands: tuple[str, ...], message: str, hint: str
) -> None:
    rows = MemberRows((1.0, 2.0), (hands[0], hand), ("ä.csv:2", "ä.csv:3"))
    with pytest.raises(CoachError) as caught:
        rows.onsets(hands)
    assert (message_of(caught.value), caught.value.where, hint_of(caught.value)) == (message, "ä.csv:3", hint)


@pytest.mark.parametrize(
    "text",
    [
        "0,003\n0,628\n1,25\n",
        "0.003\n0.628\n1.25\n",
        "Zeit\n0,003\n0,628\n1,25\n",
        "Zeit;Hand\n0,003;\n0,628;\n1,25;\n",
    ],
)
def test_a_list_of_seconds_is_read_with_either_decimal_mark(tmp_path, text):
    path = tmp_path / "ada.csv"
    path.write_text(text)
    (rows,) = read_members(path).values()
    assert rows.time == (0.003, 0.628, 1.25)


def test_every_count_takes_whatever_hand_a_table_names(tmp_path):
    path = tmp_path / "ada.csv"
    path.write_text("time,hand\n1,rechts\n2,left\n")
    (rows,) = read_members(path).values()
    assert rows.onsets(("body",)).hand == ("body", "body")
