"""A take whose place does not take it: its card is shown, and it goes to another place; nothing ends a practice."""

from __future__ import annotations

import errno
import os
import sqlite3
from typing import TYPE_CHECKING

import pytest
from textual.events import Paste

from tempo_coach.coach import Request, archiving
from tempo_coach.coach.notices import tell
from tempo_coach.coach.practising.conductor import Conductor
from tempo_coach.coach.practising.start import prepare_practice
from tempo_coach.errors import CoachError
from tempo_coach.live.practice.session import Stage
from tempo_coach.observe.take import take_writer
from tempo_coach.observe.take.take_file import ENDING, read_take_file
from tempo_coach.report.words.errors import say_error
from tempo_coach.ui.practice.elsewhere import ElsewhereScreen, ask_elsewhere
from tempo_coach.ui.practice.practise import PractiseScreen
from tests.coach.practising.test_conductor import PLAN, START, at_once, conduct
from tests.coach.practising.test_conductor import play as play_all
from tests.refused import refused
from tests.ui import fakes
from tests.ui.fakes import in_a_loop, wait_until
from tests.ui.test_screens import conductor_of, open_app, play, shown, start

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

Fill = "Callable[[bool], None]"


@pytest.fixture
def full(monkeypatch: pytest.MonkeyPatch) -> Callable[[bool], None]:
    """The disk on which takes run is full, or has room again; what is written whole goes to another one."""
    real = os.write

    def write(file: int, data: bytes) -> int:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    def fill(on: bool = True) -> None:
        monkeypatch.setattr(take_writer.os, "write", write if on else real)

    return fill


def one_take(conductor: Conductor, stage: fakes.Stage) -> None:
    play_all(conductor, stage, late=0.02)
    stage.clock.now += 2
    conductor.tick()
    assert conductor.session.stage is Stage.AFTER


def test_the_card_is_shown_and_the_take_is_written_where_a_person_says(tmp_path: Path, full: Fill) -> None:
    (tmp_path / "full").mkdir()
    (tmp_path / "stick").mkdir()
    full(True)
    conductor, stage = conduct(folder=tmp_path / "full", options=START)
    one_take(conductor, stage)
    (done,) = conductor.takes.done
    assert done.path is None and "disk is full" in tell(*done.told)
    assert conductor.takes.paths == [None]
    with refused("cannot be written"):
        conductor.takes.write_elsewhere(tmp_path / "nowhere" / "x")
    conductor.takes.write_elsewhere(tmp_path / "stick")
    (path,) = conductor.takes.paths
    assert path == tmp_path / "stick" / f"1{ENDING}"
    file = read_take_file(path)
    assert file.ended == "passage" and file.begun == "2031-05-04T18:15:02"
    assert file.take.onsets.time == pytest.approx(done.take.onsets.time, abs=0)
    assert path.stat().st_mode & 0o077 == 0
    assert conductor.takes.done[0].path == path and not conductor.takes.done[0].told and not conductor.takes.homeless
    assert list((tmp_path / "full").iterdir()) == []  # no part of it lies there to be taken for one broken off


def test_every_take_that_has_no_place_finds_one_and_nothing_is_overwritten(tmp_path: Path, full: Fill) -> None:
    (tmp_path / "full").mkdir()
    conductor, stage = conduct(folder=tmp_path / "full", options=START)
    for number in range(3):
        full(number != 1)
        one_take(conductor, stage)
        stage.clock.now += 2
        if number < 2:
            conductor.enter(stage.clock.now)
    assert [path is None for path in conductor.takes.paths] == [True, False, True]
    mine = tmp_path / "mine"
    mine.write_text("mine")
    with refused("not overwritten"):
        conductor.takes.write_elsewhere(mine)
    assert mine.read_text() == "mine" and len(conductor.takes.homeless) == 2
    conductor.takes.write_elsewhere(tmp_path / "mine.take.jsonl")
    assert conductor.takes.paths == [
        tmp_path / f"1{ENDING}",
        tmp_path / "full" / f"2{ENDING}",
        tmp_path / "mine.take.jsonl",
    ]
    for path in conductor.takes.paths:
        assert path is not None and read_take_file(path).ended == "passage"


@pytest.mark.parametrize(
    "error",
    [
        CoachError("history.file_stays", reason="the disk is full"),
        OSError(errno.ENOSPC, os.strerror(errno.ENOSPC)),
        sqlite3.OperationalError("cannot commit - no transaction is active"),
        ZeroDivisionError("a bug"),
    ],
)
def test_nothing_that_keeping_does_ends_a_practice(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str], error: Exception
) -> None:
    def fails(*_: object, **__: object) -> int:
        raise error

    monkeypatch.setattr(archiving, "keep_take", fails)
    made = prepare_practice(Request("clubs_mills", tempo_bpm=120, cycles=8), athlete="Zoë", device="none")
    made.begun()
    stage = fakes.Stage(PLAN, folder=tmp_path, options={**START, "keep": made.keep})
    conductor = Conductor(stage.context, aside=at_once, clock=stage.clock)
    one_take(conductor, stage)
    (done,) = conductor.takes.done
    assert (say_error(error) if isinstance(error, CoachError) else str(error)) in tell(done.unkept)
    path = tmp_path / f"1{ENDING}"
    assert str(path) in tell(done.unkept)  # where it is instead
    assert done.path == path and conductor.takes.unkept == [path]
    # what nobody foresaw is told whole where screens send what is not for them
    assert ("Traceback" in capfd.readouterr().err) is not isinstance(error, CoachError)


def test_on_the_screen_it_is_offered_before_anything_is_lost(tmp_path: Path, full: Fill) -> None:
    async def run() -> None:
        full(True)
        (tmp_path / "stick").mkdir()
        stage = fakes.Stage(PLAN, folder=tmp_path, options=START)
        app = open_app(stage)
        async with app.run_test(size=(80, 24)) as pilot:
            await start(app, pilot)
            await play(app, pilot, stage)
            await wait_until(pilot, lambda: "F3 another place" in shown(app))
            await pilot.press("ctrl+q")
            await wait_until(pilot, lambda: isinstance(app.screen, ElsewhereScreen) and "1 take" in shown(app))
            await pilot.press("x", "backspace", "enter")
            await wait_until(pilot, lambda: "expected a folder" in shown(app))
            await pilot.press("escape")
            await wait_until(pilot, lambda: isinstance(app.screen, PractiseScreen))
            await pilot.press("f3")
            await wait_until(pilot, lambda: isinstance(app.screen, ElsewhereScreen))
            app.screen.post_message(Paste(str(tmp_path / "stick")))
            await wait_until(pilot, lambda: "stick" in shown(app))
            await pilot.press("enter")
            await wait_until(pilot, lambda: "kept in" in shown(app) and "F3" not in shown(app))
            await pilot.press("ctrl+q")
        assert app.paths == (tmp_path / "stick" / f"1{ENDING}",)

    in_a_loop(run())


def test_the_same_key_again_leaves_without_it(tmp_path: Path, full: Fill) -> None:
    async def run() -> None:
        full(True)
        stage = fakes.Stage(PLAN, folder=tmp_path, options=START)
        app = open_app(stage)
        async with app.run_test(size=(80, 24)) as pilot:
            await start(app, pilot)
            await play(app, pilot, stage, until=8.0)
            await pilot.press("ctrl+q")  # ends the take instead of losing it
            await wait_until(pilot, lambda: "F3 another place" in shown(app))
            assert len(conductor_of(app).takes.done[0].take.onsets)
            await pilot.press("ctrl+q", "ctrl+q")
        assert app.return_value == 0 and app.paths == (None,)

    in_a_loop(run())


def test_in_lines_it_is_asked_for_until_it_is_written_or_let_go(tmp_path: Path, full: Fill) -> None:
    full(True)
    conductor, stage = conduct(folder=tmp_path, options=START)
    one_take(conductor, stage)
    answers = iter([str(tmp_path / "nowhere" / "x"), str(tmp_path / "x")])
    said: list[str] = []
    ask_elsewhere(conductor, lambda _: next(answers), said.append)
    assert read_take_file(tmp_path / "x").ended == "passage"
    assert "1 take in memory alone." in said and "cannot be written" in said[1] and said[-1] == "Written."
    conductor, stage = conduct(folder=tmp_path / "again", options=START)
    one_take(conductor, stage)
    ask_elsewhere(conductor, lambda _: "", said.append)
    assert conductor.takes.homeless
