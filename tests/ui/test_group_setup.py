"""The form of a group: what is offered, how it is read, its card and back, and what is said where it cannot be."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest

from tempo_coach.coach.practising.form import make_form
from tempo_coach.history.data_folder import FILE_VARIABLE
from tempo_coach.history.performances import find_performances
from tempo_coach.history.takes import History
from tempo_coach.ui.app import AloneApp, CoachApp
from tempo_coach.ui.group import GroupScreen
from tempo_coach.ui.group_setup import (
    BY_CLAP,
    FOLLOWED,
    HEARD,
    GroupSetupScreen,
    make_group_form,
    read_group_form,
)
from tests.refused import refused
from tests.ui.fakes import in_a_loop, rows, wait_until

if TYPE_CHECKING:
    from pathlib import Path

NAMES = ("Ada", "Bea", "Cyl")  # invented


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Tables of three who clap, Cyl 60 ms late, beside a history that is empty."""
    monkeypatch.setenv(FILE_VARIABLE, str(tmp_path / "history.sqlite"))
    monkeypatch.setenv("HOME", str(tmp_path))
    rng = np.random.default_rng(4)
    (tmp_path / "trio").mkdir()
    for name, late in zip(NAMES, (0.0, 0.0, 0.06), strict=True):
        times = 1 + np.arange(32) * 0.5 + late + 0.008 * rng.standard_normal(32)
        (tmp_path / "trio" / f"{name}.csv").write_text("time\n" + "".join(f"{t:.4f}\n" for t in times))
    return tmp_path


def filled(**values: str) -> object:
    form = make_group_form()
    for key, value in values.items():
        line = form.line(key.replace("_", " "))
        form = form.put(type(line)(**{**line.__dict__, "value": value}))
    return form


def test_the_form_asks_for_what_the_command_takes() -> None:
    asked = read_group_form(
        filled(
            music="music.wav",
            tempo="96",
            member_1="Ada=ada.wav",
            member_3=" 'a folder' ",
            kind="claps",
            films=FOLLOWED,
            hall="6",
        )
    )
    assert asked.sources == ("Ada=ada.wav", "a folder") and asked.music == "music.wav" and asked.tempo_bpm == 96
    assert (asked.listening.kind, asked.listening.film, asked.listening.first_clap) == ("clap", True, False)
    assert asked.hall == 6 and asked.drill is None and asked.routine is None
    drill = read_group_form(filled(drill="clubs_mills", member_1="12", films=HEARD, clocks=BY_CLAP))
    assert drill.drill is not None and drill.drill.drill == "clubs_mills" and drill.listening.first_clap
    with refused("member 1: expected 2 to 30 members, got 0"):
        read_group_form(make_group_form())


def test_with_each_member_comes_a_line_for_one_more() -> None:
    form = make_group_form()
    assert {"member 3", "member 12"} <= form.idle and not {"member 1", "member 2"} & form.idle
    assert "member 5" not in filled(member_4="Ada:last").idle


def test_a_group_is_chosen_judged_kept_and_looked_through(folder: Path) -> None:
    async def run() -> None:
        app = CoachApp(make_form(("clubs_mills",)), folder=folder / "takes")
        async with app.run_test(size=(80, 24)) as pilot:
            await wait_until(pilot, lambda: "set up" in rows(app)[0])
            await pilot.press("f6")
            await wait_until(pilot, lambda: "a group" in rows(app)[0])
            screen = app.screen
            assert isinstance(screen, GroupSetupScreen)
            screen._here = folder
            screen._look_round()
            trio = str(folder / "trio")
            await wait_until(pilot, lambda: trio in screen.form.line("member 1").choices)
            await pilot.press("down", "down", "down", *"120", "down")
            for _ in screen.form.line("member 1").choices:
                if screen.form.value("member 1") == trio:
                    break
                await pilot.press("right")
            assert screen.form.value("member 1") == trio
            assert trio not in screen.form.line("member 2").choices, "nobody is offered twice"
            await pilot.press(*["down"] * 6, *"trio", "enter")
            await wait_until(pilot, lambda: isinstance(app.screen, GroupScreen))
            await wait_until(pilot, lambda: any("Cyl is" in row for row in rows(app)))
            await pilot.press("tab")
            await wait_until(pilot, lambda: "by eights" in rows(app)[0])
            await pilot.press("3")
            await wait_until(pilot, lambda: "Cyl" in rows(app)[0])
            await pilot.press("enter")
            await wait_until(pilot, lambda: any("Kept as performance 1 of trio." in row for row in rows(app)))
            await pilot.press("escape")
            await wait_until(pilot, lambda: "set up" in rows(app)[0])
            await pilot.press("f6")
            await wait_until(pilot, lambda: any("trio" in row and "member 1" in row for row in rows(app)))

    in_a_loop(run())
    with History(folder / "history.sqlite", read_only=True) as history:
        (one,) = find_performances(history, "trio")
    assert [m.member for m in one.members] == [*NAMES]


@pytest.mark.parametrize(
    ("values", "said"),
    [
        ({"member_1": "trio", "kind": "claps", "tempo": "120"}, "heard in sound: no member is given by a recording"),
        ({"member_1": "trio", "films": FOLLOWED, "tempo": "120"}, "films: no member is given by a film"),
        ({"member_1": "trio", "clocks": BY_CLAP, "tempo": "120"}, "clocks by: no member is given by a recording"),
        ({"member_1": "trio", "clocks": BY_CLAP, "music": "x.wav"}, "clocks by: expected one clap or music"),
        ({"member_1": "trio", "plan": "p.json", "drill": "clubs_mills"}, "plan: expected a plan or a drill"),
        ({"member_1": "nowhere.csv", "tempo": "120"}, "nowhere.csv: "),
        ({"member_1": "trio"}, "group: "),
    ],
)
def test_what_cannot_be_is_said_with_the_name_of_its_line(
    folder: Path, monkeypatch: pytest.MonkeyPatch, values: dict[str, str], said: str
) -> None:
    monkeypatch.chdir(folder)

    async def run() -> None:
        app = AloneApp(GroupSetupScreen(filled(**values)))
        async with app.run_test(size=(100, 30)) as pilot:
            await wait_until(pilot, lambda: "a group" in rows(app)[0])
            await pilot.press("enter")
            await wait_until(pilot, lambda: any(said in row for row in rows(app)))
            assert isinstance(app.screen, GroupSetupScreen)

    in_a_loop(run())
