"""Names of wide, combining and right-to-left letters, and long ones, keep to their columns in every table of names.

Letters of East Asian scripts take two columns, combining ones none (Unicode Standard Annex 11).
"""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import date
from typing import TYPE_CHECKING

import pytest

from tempo_coach.cli import main
from tempo_coach.coach.practising.form import make_form
from tempo_coach.coach.todays_practice import open_today
from tempo_coach.history.roster import Person, people_folder, save_person
from tempo_coach.languages import ENGLISH, speak, speaking
from tempo_coach.languages.catalogue import read_language
from tempo_coach.live.phones.joined import JoinedPhone
from tempo_coach.report.words.history import format_rows
from tempo_coach.signs import columns
from tempo_coach.ui.app import CoachApp
from tempo_coach.ui.history.rows import draw_row, draw_told
from tempo_coach.ui.palette import PLAIN
from tempo_coach.ui.practice.today_screen import TodayScreen
from tempo_coach.ui.practice.todays_group_screen import TodaysGroupScreen
from tests.ui.fakes import in_a_loop, rows, wait_until
from tests.ui.history.test_screen import open_season

if TYPE_CHECKING:
    from pathlib import Path

#: Japanese, Bulgarian, Arabic, a combining accent, and sixty letters.
NAMES = ("舞子さん山田太郎花子さん", "Елена Димитрова", "سارة بنت أحمد", "Zoe\u0308", "W" * 60)
LANGUAGES = ("de", "it", "es", "fr")


@pytest.fixture(autouse=True)
def in_english_again():
    """Leave nothing spoken behind."""
    yield
    speak(ENGLISH)


def begin_at(lines: list[str], what: str) -> set[int]:
    """Columns at which something begins in the lines that have it."""
    return {columns(line[: found.start()]) for line in lines if (found := re.search(what, line))}


@pytest.mark.parametrize("code", LANGUAGES)
def test_the_card_of_a_group(code: str, tmp_path: Path, capsys) -> None:
    table = tmp_path / "names.csv"
    told = [f"{0.6 * k + 0.02 * at:.3f},{name}" for k in range(24) for at, name in enumerate(NAMES)]
    table.write_text("\n".join(["time,member", *told]), encoding="utf-8")
    assert main(["group", str(table), "--tempo", "100", "--language", code]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert max(map(columns, lines)) <= 80
    scales = [line for line in lines if re.search(r"[.o<]{15}\||\.{15}o", line)]
    assert len(scales) == len(NAMES) and len(begin_at(scales, r"[.o<|>]{31}")) == 1
    head = next(line for line in lines if "|" in line and line not in scales)
    assert "…" not in head


@pytest.mark.parametrize("width", [80, 100])
def test_the_history(width: int, tmp_path: Path) -> None:
    with open_season(tmp_path) as history:
        found = history.find()
    takes = [replace(row, athlete=name) for row, name in zip(found, NAMES, strict=False)]
    for code in LANGUAGES:
        with speaking(read_language(code)):
            drawn = [draw_row(row, chosen=False, marked=False, width=width).plain for row in takes]
            head = draw_told("", width=width, palette=PLAIN)[-1].plain
            listed = format_rows(takes, all_takes=len(takes)).splitlines()
        assert max(map(columns, [*drawn, head])) <= width
        assert len(begin_at(drawn, r"(rope|clubs)_")) == len(begin_at(drawn, r" ms")) == 1
        assert max(map(columns, listed)) <= 80
        assert len(begin_at(listed, r"(rope|clubs)_")) == 1


def test_the_lists_of_today(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("tempo_coach.history.data_folder.data_folder", lambda: tmp_path / "data")
    file = tmp_path / "history.sqlite"
    for name in NAMES:
        save_person(people_folder(file), Person(name, apparatus=("rope",), minutes=20))

    async def look() -> None:
        screen = TodayScreen(open_today(file, NAMES[0], day=date(2031, 5, 20)), NAMES, group=NAMES)
        app = CoachApp(make_form(["clubs_mills"]), folder=tmp_path, today=screen)
        async with app.run_test(size=(80, 24)) as pilot:
            await wait_until(pilot, lambda: any("0/" in row for row in rows(app)))
            assert isinstance(app.screen, TodaysGroupScreen)
            seen = rows(app)
            assert max(map(columns, seen)) <= 80
            assert [len(begin_at(seen[1:6], r" 0/\d+")), sum("0/" in row for row in seen[1:6])] == [1, len(NAMES)]
            await pilot.press("enter")
            await wait_until(pilot, lambda: isinstance(app.screen, TodayScreen) and "Today" in "".join(rows(app)[:1]))
            assert NAMES[0] in rows(app)[0] and max(map(columns, rows(app))) <= 80

    in_a_loop(look())


def test_the_phones() -> None:
    joining = pytest.importorskip("tests.ui.practice.test_joining", reason="the extra phones is not installed")
    phones = joining.FakePhones()
    phones.phones = {
        number: JoinedPhone(number, "48", name, ("tap", "remote"), ("right", "left"), 0.004)
        for number, name in enumerate(NAMES, 1)
    }
    phones.phones[9] = JoinedPhone(9, "85")
    screen = joining.JoiningScreen(phones, hands=("right", "left"), names=[NAMES[-1], *NAMES[:-1]])
    for code in ("en", *LANGUAGES):
        with speaking(read_language(code)):
            for width, height in ((80, 22), (100, 28)):
                drawn = [row.plain for row in screen.draw_page(width, height).rows]
                assert max(map(columns, drawn)) <= width
                assert sum("±4" in row for row in drawn) == len(NAMES)
