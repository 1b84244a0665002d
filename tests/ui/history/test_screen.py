"""The history screen: found by typing, opened, set side by side, noted, exported; at two sizes."""

from __future__ import annotations

import csv
from contextlib import contextmanager
from datetime import datetime
from typing import TYPE_CHECKING

import pytest

from tempo_coach import coach
from tempo_coach.history.records import Wanted
from tempo_coach.history.takes import History
from tempo_coach.ui.app import AloneApp
from tempo_coach.ui.history.kept import KeptScreen
from tempo_coach.ui.history.rows import draw_comparison
from tempo_coach.ui.history.screen import HistoryScreen
from tempo_coach.ui.palette import PLAIN
from tests.history.season import make_take, put, said_of
from tests.ui import snapshots
from tests.ui.fakes import in_a_loop, rows, wait_until

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from tempo_coach.history.columns import TakeRow

SIZES = ((80, 24), (100, 30))


@contextmanager
def open_season(folder: Path, athletes: tuple[str, ...] = ("Ada", "Zoë", "A" * 40)) -> Iterator[History]:
    """A history of thirteen invented takes."""
    with History(folder / "history.sqlite") as history:
        for seed in range(1, 13):
            put(history, seed, athlete=athletes[seed % 5 // 2], begun=f"2031-05-{seed:02d}T18:00:00")
        take = make_take(3, drill="rope_figure_eight")
        history.put(take, said_of(3), athlete="Ada", begun="2031-05-20T18:00", steady=False)
        yield history


@pytest.fixture
def history(tmp_path: Path) -> Iterator[History]:
    with open_season(tmp_path) as history:
        yield history


def open_app(history: History, folder: Path, wanted: Wanted | None = None) -> tuple[AloneApp, HistoryScreen]:
    screen = HistoryScreen(history, wanted, folder=folder, now=lambda: datetime(2031, 6, 1, 12, 0))
    return AloneApp(screen), screen


def shown(app: AloneApp) -> str:
    return "\n".join(rows(app))


@pytest.mark.parametrize(("width", "height"), SIZES)
def test_what_it_looks_like(history: History, tmp_path: Path, width: int, height: int) -> None:
    async def look() -> None:
        app, _ = open_app(history, tmp_path)
        async with app.run_test(size=(width, height)) as pilot:
            await wait_until(pilot, lambda: "13 of 13" in shown(app))
            await pilot.press("down", "tab", "down")
            await wait_until(pilot, lambda: [row[6:8] for row in rows(app) if row[1] == "›"] == ["11"])
            snapshots.check("history", rows(app), width=width, height=height)
            await pilot.press("enter")
            await wait_until(pilot, lambda: "Two takes" in shown(app))
            snapshots.check("history_beside", rows(app), width=width, height=height)

    in_a_loop(look())


def test_typing_finds_takes_and_escape_shows_all(history: History, tmp_path: Path) -> None:
    async def look() -> None:
        app, screen = open_app(history, tmp_path)
        async with app.run_test(size=(80, 24)) as pilot:
            await wait_until(pilot, lambda: "13 of 13" in shown(app))
            await pilot.press(*"zoë")
            assert {row.athlete for row in screen.rows} == {"Zoë"}
            await pilot.press(*" nobody")
            assert "No take is like that" in shown(app)
            await pilot.press("enter", "tab", "f2", "f3", "up", "down")  # nothing there to do it with
            assert app.screen is screen
            await pilot.press("escape")
            assert "13 of 13" in shown(app)
            await pilot.press(*"rope", "backspace")
            assert "1 of 13" in shown(app)

    in_a_loop(look())


def test_enter_opens_a_take_against_the_one_before(history: History, tmp_path: Path) -> None:
    async def look() -> None:
        app, screen = open_app(history, tmp_path, Wanted(athlete="Ada", drill="clubs_mills"))
        async with app.run_test(size=(100, 30)) as pilot:
            await wait_until(pilot, lambda: "take" in shown(app))
            number = screen.rows[0].number
            await pilot.press("enter")
            await wait_until(pilot, lambda: f"take {number}, 2031-05" in shown(app))
            assert isinstance(app.screen, KeptScreen)
            assert "before" in shown(app)
            before = rows(app)
            await pilot.press("down", "down", "up", "pageup")
            assert rows(app) == before
            await pilot.press("enter")
            assert app.screen is screen

    in_a_loop(look())


def test_a_note_is_typed_and_kept(history: History, tmp_path: Path) -> None:
    async def look() -> None:
        app, screen = open_app(history, tmp_path)
        async with app.run_test(size=(80, 24)) as pilot:
            await wait_until(pilot, lambda: "13 of 13" in shown(app))
            await pilot.press("down", "f2", *"tired x", "backspace", "backspace", "enter")
            number = screen.rows[1].number
            assert f"Noted on take {number}." in shown(app)
            assert [note.text for note in history.notes(take=number)] == ["tired"]
            await pilot.press("f2", *"not this", "escape")
            await pilot.press("f2", "enter")
            assert len(history.notes(take=number)) == 1

    in_a_loop(look())


def test_a_table_and_a_page_are_written_and_overwrite_nothing(history: History, tmp_path: Path) -> None:
    async def look() -> None:
        app, _ = open_app(history, tmp_path)
        async with app.run_test(size=(80, 24)) as pilot:
            await wait_until(pilot, lambda: "13 of 13" in shown(app))
            await pilot.press(*"ada", "f3", "f3", "f4")
            await wait_until(pilot, lambda: "The page of take" in shown(app))

    in_a_loop(look())
    tables = sorted(tmp_path.glob("takes_2031-06-01*.csv"))
    assert [table.name for table in tables] == ["takes_2031-06-01.csv", "takes_2031-06-01_2.csv"]
    with tables[0].open(newline="", encoding="utf-8") as table:
        assert {row["athlete"] for row in csv.DictReader(table)} == {"Ada"}
    assert "<svg" in (tmp_path / "take_13_2031-06-01.html").read_text(encoding="utf-8")


def test_where_nothing_can_be_written_it_says_so(history: History, tmp_path: Path) -> None:
    async def look() -> None:
        app, _ = open_app(history, tmp_path / "gone")
        async with app.run_test(size=(80, 24)) as pilot:
            await wait_until(pilot, lambda: "13 of 13" in shown(app))
            await pilot.press("f3")
            assert "cannot be written" in " ".join(shown(app).split())

    in_a_loop(look())


def test_an_empty_history_and_a_small_screen_are_whole(tmp_path: Path) -> None:
    async def look() -> None:
        with History(tmp_path / "empty.sqlite") as empty:
            app, _ = open_app(empty, tmp_path)
            async with app.run_test(size=(40, 10)) as pilot:
                await wait_until(pilot, lambda: "No take is kept yet: practise once" in shown(app))
                await pilot.resize_terminal(80, 24)
                await wait_until(pilot, lambda: len(rows(app)) == 24)

    in_a_loop(look())


def test_two_takes_of_one_athlete_are_before_and_after_those_of_two_are_not(history: History) -> None:
    found = history.find(Wanted(drill="clubs_mills"))
    hers = [row for row in found if row.athlete == "Ada"]
    others = [row for row in found if row.athlete == "Zoë"]

    def beside(*pair: TakeRow) -> str:
        judged = [(row, coach.judge_take(history.take(row.number).take)) for row in pair]
        return "\n".join(row.plain for row in draw_comparison(judged, width=80, height=24, palette=PLAIN))

    assert "before" in beside(*hers[:2])
    both = beside(hers[0], others[0])
    assert "before" not in both and ("as steady as each other" in both or "is steadier" in both)
    assert "a circle apart" in both  # the title is whole, in as many rows as it needs
