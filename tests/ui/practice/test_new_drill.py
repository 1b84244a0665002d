"""A new drill in the screens: drawn while it is typed, its mistakes said, saved as a file that is read back."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import TYPE_CHECKING

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tempo_coach.coach.practising.form import make_form
from tempo_coach.pattern.drill.drill_file import read_drill
from tempo_coach.report.words.errors import say_error
from tempo_coach.ui.app import CoachApp
from tempo_coach.ui.form import turn
from tempo_coach.ui.palette import PLAIN
from tempo_coach.ui.practice.new_drill import NewDrillScreen, draw_tried, make_new_form, save_drill, try_drill
from tempo_coach.ui.practice.setup import SetupScreen
from tests.refused import refused
from tests.ui import snapshots
from tests.ui.fakes import in_a_loop, wait_until
from tests.ui.test_screens import DRILLS, SIZES, rows, shown

if TYPE_CHECKING:
    from pathlib import Path

    from tempo_coach.coach.practising.form import Form


def fill_in(**values: str) -> Form:
    form = make_new_form()
    for key, text in values.items():
        form = form.put(replace(form.line(key), value=text))
    return form


def test_as_it_stands_it_is_a_drill_of_taught_circles(tmp_path: Path) -> None:
    tried = try_drill(make_new_form(), tmp_path)
    assert tried.trouble is None and tried.drill is not None
    assert [moment.at for moment in tried.drill.pattern.hands[0].moments] == [0.5, 2.25, 2.75]
    assert tried.path == tmp_path / "my_drill.toml"


def test_what_is_saved_is_read_back_as_what_was_drawn_and_has_notes_in_it(tmp_path: Path) -> None:
    tried = try_drill(
        fill_in(name="late_mills", apparatus="clubs", circles="front 1, back 1", hands="right, left", lag="1"),
        tmp_path / "not there yet",
    )
    path = save_drill(tried)
    assert read_drill(path) == tried.drill
    assert tried.drill is not None and tried.drill.title == "late mills"
    assert sum(line.startswith("#") for line in path.read_text().splitlines()) > 5


@pytest.mark.parametrize(
    ("values", "said"),
    [
        ({"circles": "low 1, low 2"}, "expected each phase once, got 'low' again"),
        ({"circles": "low"}, "expected at least one circle"),
        ({"circles": "low 99"}, "expected 0 to 32 whole circles in low, got 99"),
        ({"counts": "65"}, "expected 0.25 to 64, got 65"),
        ({"counts": "1.2.3"}, "expected 0.25 to 64, got 1.2.3"),
        ({"name": "clubs_mills"}, "clubs_mills came with the program"),
        ({"name": 'a"b'}, "expected plain words without quotes"),
        ({"hands": "right, left", "lag": "33"}, "expected 0 to 32, got 33"),
    ],
)
def test_mistakes_are_said_and_nothing_is_saved(tmp_path: Path, values: dict[str, str], said: str) -> None:
    tried = try_drill(fill_in(**values), tmp_path)
    assert tried.trouble is not None and said in say_error(tried.trouble) and tried.drill is None
    with refused(r"expected|came with"):
        save_drill(tried)
    assert list(tmp_path.iterdir()) == []


def test_a_comma_at_the_end_is_where_she_goes_on_typing(tmp_path: Path) -> None:
    assert try_drill(fill_in(circles="low 1, "), tmp_path).trouble is None


def test_a_name_with_a_folder_is_taken_as_it_is(tmp_path: Path) -> None:
    assert save_drill(try_drill(fill_in(name=f"{tmp_path}/own"), tmp_path / "other")) == tmp_path / "own.toml"


def test_a_file_that_came_in_between_is_not_overwritten(tmp_path: Path) -> None:
    tried = try_drill(make_new_form(), tmp_path)
    tried.path.write_text("hers")
    with refused("there is one already"):
        save_drill(tried)
    assert tried.path.read_text() == "hers"
    trouble = try_drill(make_new_form(), tmp_path).trouble
    assert trouble is not None and "there is a drill of this name" in say_error(trouble)


KEYS = [line.key for line in make_new_form().lines]


@given(st.lists(st.tuples(st.sampled_from(KEYS), st.sampled_from(["left", "right", "erase", *'ab10 .,="\\/é']))))
def test_whatever_is_typed_it_is_drawn_or_said(presses: list[tuple[str, str]]) -> None:
    from pathlib import Path

    form, folder = make_new_form(), Path("/nowhere/at/all")
    for key, press in presses:
        line = form.line(key)
        if press in ("left", "right"):
            form = form.put(turn(line, -1 if press == "left" else 1).line)
        else:
            form = form.put(line.erased() if press == "erase" else line.typed(press))
        tried = try_drill(form, folder)
        assert (tried.drill is None) == bool(tried.trouble)
        drawn = draw_tried(tried, sentence="", width=80, height=15, palette=PLAIN)
        assert len(drawn) == 15 and all(row.cell_len == 80 for row in drawn)


@pytest.mark.parametrize(("width", "height"), SIZES)
def test_from_the_set_up_and_back_with_the_drill_chosen(width: int, height: int, tmp_path: Path) -> None:
    async def run() -> None:
        app = CoachApp(make_form(DRILLS), folder=tmp_path)
        async with app.run_test(size=(width, height)) as pilot:
            await wait_until(pilot, lambda: bool(rows(app)))
            await pilot.press("f4")
            await wait_until(pilot, lambda: isinstance(app.screen, NewDrillScreen) and bool(rows(app)))
            await pilot.press(*"eight", "down", "down", "down", *"low 1, low 2")
            assert "each phase once" in shown(app)
            await pilot.press("enter")
            assert isinstance(app.screen, NewDrillScreen)
            await pilot.press(*["backspace"] * 5, *"high 2")
            drawn = [re.sub(r"(     file +).*", r"\1FOLDER/eight.toml", row) for row in rows(app)]
            snapshots.check("new_drill", drawn, width=width, height=height)
            await pilot.press("enter")
            await wait_until(pilot, lambda: isinstance(app.screen, SetupScreen) and "Saved in" in shown(app))
            assert "eight (your own)" in shown(app)
            screen = app.screen
            assert isinstance(screen, SetupScreen) and screen.form.request().drill == str(
                tmp_path / "drills/eight.toml"
            )

    in_a_loop(run())
    assert len(read_drill(tmp_path / "drills" / "eight.toml").pattern.hands[0].moments) == 3


def test_own_drills_are_there_to_choose_from_and_by_their_first_letter(tmp_path: Path) -> None:
    save_drill(try_drill(fill_in(name="zigzag"), tmp_path / "drills"))

    async def run() -> None:
        app = CoachApp(make_form(DRILLS), folder=tmp_path)
        async with app.run_test(size=(80, 24)) as pilot:
            await wait_until(pilot, lambda: bool(rows(app)))
            await pilot.press("z")
            assert "zigzag (your own)" in shown(app)

    in_a_loop(run())


def test_what_was_typed_is_there_again_after_escape(tmp_path: Path) -> None:
    async def run() -> None:
        app = CoachApp(make_form(DRILLS), folder=tmp_path)
        async with app.run_test(size=(80, 24)) as pilot:
            await wait_until(pilot, lambda: bool(rows(app)))
            await pilot.press("f4")
            await wait_until(pilot, lambda: isinstance(app.screen, NewDrillScreen))
            await pilot.press(*"half", "escape")
            await wait_until(pilot, lambda: isinstance(app.screen, SetupScreen))
            await pilot.press("f4")
            await wait_until(pilot, lambda: isinstance(app.screen, NewDrillScreen) and "half" in shown(app))

    in_a_loop(run())
    assert not (tmp_path / "drills").exists()
