"""The set-up: what is said there, what it starts, and where it leads."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import pytest
from textual.events import Key

from tempo_coach import coach
from tempo_coach.coach import routines
from tempo_coach.coach.practising.form import make_form, offer_laid, open_run_through
from tempo_coach.errors import CoachError
from tempo_coach.history.data_folder import FILE_VARIABLE
from tempo_coach.languages import ENGLISH, speak, spoken
from tempo_coach.languages.choice import VARIABLE, choose_language, kept_file
from tempo_coach.music.beats.finder import Beats
from tempo_coach.music.counts.count_map import CountMap, Position
from tempo_coach.music.files.sound import Sound
from tempo_coach.music.files.sound_file import write_sound
from tempo_coach.pattern.routine.routine import Laid
from tempo_coach.report.words.practising import AS_LAID
from tempo_coach.ui.app import CoachApp
from tempo_coach.ui.form import Field
from tempo_coach.ui.practice.practise import PractiseScreen
from tempo_coach.ui.practice.setup import SetupScreen
from tests.refused import refused
from tests.ui import snapshots
from tests.ui.fakes import in_a_loop, lay, wait_until
from tests.ui.test_screens import DRILLS, SIZES, conductor_of, rows, shown

if TYPE_CHECKING:
    from pathlib import Path


@pytest.mark.parametrize(("width", "height"), SIZES)
def test_how_the_set_up_looks(width: int, height: int, tmp_path: Path) -> None:
    async def run() -> None:
        app = CoachApp(make_form(DRILLS), folder=tmp_path)
        async with app.run_test(size=(width, height)) as pilot:
            await wait_until(pilot, lambda: bool(rows(app)))
            await pilot.press("down", "down", "right")
            await pilot.pause(0.1)
            snapshots.check("set_up", rows(app), width=width, height=height)

    in_a_loop(run())


def test_in_the_set_up_enter_starts_what_stands_there(tmp_path: Path) -> None:
    async def run() -> None:
        app = CoachApp(make_form(DRILLS, device="none"), folder=tmp_path)
        async with app.run_test(size=(80, 24)) as pilot:
            await wait_until(pilot, lambda: bool(rows(app)))
            await pilot.press("right", "down", "down", "9", "6", "enter")
            await wait_until(pilot, lambda: isinstance(app.screen, PractiseScreen))
            await wait_until(pilot, lambda: "press the key for" in shown(app))
            plan = conductor_of(app).session.plan
            assert (plan.drill, plan.tempo_bpm) == ("rope_figure_eight", 96.0)

    in_a_loop(run())


def test_drills_are_found_by_words_of_their_titles_however_fast_they_are_typed(tmp_path: Path) -> None:
    names = ("clubs_mills", "clubs_mills_two", "ribbon_snakes", "ribbon_spirals", "rope_figure_eight")

    async def run() -> None:
        app = CoachApp(make_form(names), folder=tmp_path)
        async with app.run_test(size=(80, 24)) as pilot:
            await wait_until(pilot, lambda: bool(rows(app)))
            screen = app.screen
            assert isinstance(screen, SetupScreen)
            await wait_until(pilot, lambda: len(screen.form.line("drill").labels) > 1)
            assert screen.form.line("drill").choices[0] == "rope_figure_eight"  # by apparatus, then by title
            field = screen.focused
            assert isinstance(field, Field)
            for letter in "rib":  # before the form has heard of the first one
                field.post_message(Key(letter, letter))
            await wait_until(pilot, lambda: "Ribbon: spirals" in shown(app) and "rib▏" in shown(app))
            assert screen.form.value("drill") == "ribbon_snakes"
            await pilot.press("right")
            assert screen.form.value("drill") == "ribbon_spirals"
            await pilot.press("right", "z")  # what would leave none is not taken in
            assert screen.form.value("drill") == "ribbon_snakes" and "rib▏" in shown(app)
            await pilot.press("down")
            await wait_until(pilot, lambda: screen.form.line("drill").search == "")
            assert screen.form.value("drill") == "ribbon_snakes"

    in_a_loop(run())


def test_the_set_up_says_what_cannot_be_and_stays(tmp_path: Path) -> None:
    async def run() -> None:
        app = CoachApp(make_form(DRILLS), folder=tmp_path)
        async with app.run_test(size=(80, 24)) as pilot:
            await wait_until(pilot, lambda: bool(rows(app)))
            await pilot.press("down", *"nowhere.wav", "enter")
            await wait_until(pilot, lambda: "no such file" in " ".join(shown(app).split()))
            assert isinstance(app.screen, SetupScreen)
            await pilot.press(*["backspace"] * 11, "down", *"1000", "enter")
            await wait_until(pilot, lambda: "expected 20 to 400" in shown(app))

    in_a_loop(run())


def test_a_take_that_was_broken_off_is_offered_and_only_once(tmp_path: Path) -> None:
    from tempo_coach.observe.take.take_file import ENDING
    from tempo_coach.observe.take.take_writer import TakeWriter
    from tempo_coach.observe.take.unfinished import find_unfinished

    plan = lay("clubs_mills", tempo_bpm=120, cycles=8)
    writer = TakeWriter(tmp_path / f"x{ENDING}", plan, observed_by="tap", begun="2031-05-04T18:15:02")
    for time, hand in zip(plan.moments.time, plan.moments.hand, strict=True):
        writer.onset(hand, stamp=float(time), time=float(time))
    writer.close()

    async def run() -> None:
        app = CoachApp(make_form(DRILLS), folder=tmp_path)
        async with app.run_test(size=(100, 30)) as pilot:
            await wait_until(pilot, lambda: "broken off" in shown(app))
            await pilot.press("f2")
            await wait_until(pilot, lambda: "kept in" in shown(app))
            await pilot.press("enter")
            await wait_until(pilot, lambda: isinstance(app.screen, SetupScreen))
            assert "broken off" not in shown(app)

    in_a_loop(run())
    assert find_unfinished(tmp_path) == ()


def test_whose_take_which_device_and_which_hand_are_said_in_the_set_up(tmp_path: Path) -> None:
    async def run() -> None:
        app = CoachApp(make_form(DRILLS), folder=tmp_path)
        async with app.run_test(size=(80, 24)) as pilot:
            await wait_until(pilot, lambda: bool(rows(app)))
            screen = app.screen
            assert isinstance(screen, SetupScreen)
            await wait_until(pilot, lambda: "headphones" in screen.form.line("device").choices)
            await pilot.press("up", *"Ada")
            assert screen.form.athlete == "Ada"
            await pilot.press("up", "left")
            assert screen.form.value("device") == "headphones"
            await pilot.press(*["up"] * 6, "left")
            assert "left alone" in shown(app)
            assert screen.form.request().hand == "left"
            await pilot.press("up", "right")
            assert screen.form.request().spoken
            await pilot.press("enter")
            await wait_until(pilot, lambda: isinstance(app.screen, PractiseScreen))
            await wait_until(pilot, lambda: "press the key for" in shown(app))
            assert conductor_of(app).session.plan.hands == ("left",)

    in_a_loop(run())


def test_a_name_that_cannot_be_kept_is_said_before_the_take(tmp_path: Path) -> None:
    async def run() -> None:
        app = CoachApp(make_form(DRILLS), folder=tmp_path)
        async with app.run_test(size=(80, 24)) as pilot:
            await wait_until(pilot, lambda: bool(rows(app)))
            screen = app.screen
            assert isinstance(screen, SetupScreen)
            screen.form = screen.form.put(replace(screen.form.line("athlete"), value="A" * 10_001))
            await pilot.press("enter")
            await wait_until(pilot, lambda: "at most 200 letters" in shown(app))
            assert {len(row) for row in rows(app)} == {80}
            assert app.screen is screen

    in_a_loop(run())


def test_the_history_opens_from_the_set_up_and_escape_comes_back(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from tempo_coach.history.takes import History
    from tempo_coach.ui.history.screen import HistoryScreen
    from tests.history.season import put

    file = tmp_path / "history.sqlite"
    monkeypatch.setenv("TEMPO_COACH_HISTORY", str(file))

    async def run() -> None:
        app = CoachApp(make_form(DRILLS), folder=tmp_path)
        async with app.run_test(size=(80, 24)) as pilot:
            await wait_until(pilot, lambda: bool(rows(app)))
            screen = app.screen
            assert isinstance(screen, SetupScreen)
            await pilot.press("f5")
            await wait_until(pilot, lambda: "history" in rows(app)[-2])
            assert app.screen is screen and not file.exists()
            with History(file) as history:
                put(history, 1, athlete="Ada", begun="2031-05-01T18:00:00")
            await pilot.press("f5")
            await wait_until(pilot, lambda: isinstance(app.screen, HistoryScreen) and "1 of 1" in shown(app))
            assert "Escape back" in " ".join(rows(app)[-2:])
            await pilot.press("x", "escape")
            assert isinstance(app.screen, HistoryScreen)
            await pilot.press("escape")
            await wait_until(pilot, lambda: app.screen is screen)

    in_a_loop(run())


def test_a_routine_in_the_set_up_is_heard_once_and_practised_on_its_own_counts(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    sound = Sound(np.zeros((48_000 * 40, 1), np.float32), 48_000)
    write_sound(tmp_path / "a.flac", sound)
    beats = 1.0 + 0.5 * np.arange(64)
    counts = CountMap(beats, tuple((8 * k, 8) for k in range(8)))
    found = Beats(beats, np.arange(64) % 4 + 1, np.ones(64), (), (), sound.duration)
    asked = []

    def hear(request: coach.Request, *, progress: object) -> coach.Heard:
        asked.append((request.music, request.tempo_bpm))
        return coach.Heard(str(tmp_path / "a.flac"), sound, found, counts)

    monkeypatch.setattr(coach, "hear_request", hear)
    request = coach.Request("clubs_mills", music="spring.toml", eights=1)

    async def run() -> None:
        app = CoachApp(make_form(DRILLS, request, device="none"), folder=tmp_path)
        async with app.run_test(size=(80, 24)) as pilot:
            for _ in range(2):
                await wait_until(pilot, lambda: isinstance(app.screen, SetupScreen))
                await pilot.press("enter")
                await wait_until(
                    pilot, lambda: isinstance(app.screen, PractiseScreen) and app.screen.conductor is not None
                )
                plan = conductor_of(app).session.plan
                assert plan.music is not None and plan.music.path == str(tmp_path / "a.flac")
                assert plan.pieces[0].music_start + plan.start == pytest.approx(1.0)
                app.screen.dismiss(CoachError("stretch.music_ends"))
            assert asked == [("spring.toml", None)]

    in_a_loop(run())


def test_where_there_is_no_history_yet_it_says_how_one_comes(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv(FILE_VARIABLE, str(tmp_path / "none.sqlite"))

    async def run() -> None:
        app = CoachApp(make_form(DRILLS), folder=tmp_path)
        async with app.run_test(size=(80, 24)) as pilot:
            await wait_until(pilot, lambda: bool(rows(app)))
            await pilot.press("f5")
            await wait_until(pilot, lambda: "no history yet: practise once" in shown(app))
            assert isinstance(app.screen, SetupScreen) and not (tmp_path / "none.sqlite").exists()

    in_a_loop(run())


def open_laid(folder: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A routine of 32 s with mills of the left hand alone on its third eight; its music has been heard."""
    sound = Sound(np.zeros((48_000 * 40, 1), np.float32), 48_000)
    write_sound(folder / "a.flac", sound)
    beats = 1.0 + 0.5 * np.arange(64)
    found = Beats(beats, np.arange(64) % 4 + 1, np.ones(64), (), (), sound.duration)
    heard = coach.Heard(str(folder / "a.flac"), sound, found, CountMap(beats, tuple((8 * k, 8) for k in range(8))))
    monkeypatch.setattr(routines, "hear", lambda *_, **__: heard)
    opened = coach.begin_routine(folder / "spring.toml", folder / "a.flac")
    laid = replace(opened.routine, laid=(Laid("clubs_mills", Position(3, 1.0), 2, "left"),))
    return coach.save_routine(replace(opened, routine=laid)).path


def test_what_a_routine_has_laid_is_practised_from_the_set_up(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = open_laid(tmp_path, monkeypatch)

    async def run() -> None:
        app = CoachApp(make_form(DRILLS, device="none"), folder=tmp_path)
        async with app.run_test(size=(80, 24)) as pilot:
            await wait_until(pilot, lambda: bool(rows(app)))
            screen = app.screen
            assert isinstance(screen, SetupScreen)
            screen.form = screen.form.put(replace(screen.form.line("music"), value=str(path)[:-1]))
            await wait_until(pilot, lambda: str(path)[-8:-1] in shown(app))
            await pilot.press("down")
            await wait_until(pilot, lambda: "▸ music" in shown(app))
            await pilot.press(str(path)[-1])
            await wait_until(pilot, lambda: AS_LAID in shown(app))
            await pilot.press("up", *AS_LAID[:4])
            assert screen.form.value("drill") == AS_LAID and "Enter runs through the routine" in shown(app)
            await pilot.press("enter")
            await wait_until(pilot, lambda: isinstance(app.screen, PractiseScreen) and bool(app.screen.conductor))
            plan = conductor_of(app).session.plan
            assert [each.drill for each in plan.sections][:1] == ["clubs_mills"]
            assert plan.pieces[0].music_start + plan.start == pytest.approx(1.0)

    in_a_loop(run())


def test_what_a_routine_says_is_not_said_twice_and_goes_with_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = open_laid(tmp_path, monkeypatch)
    form = make_form(DRILLS)
    assert AS_LAID not in offer_laid(form).line("drill").choices
    form = offer_laid(form.put(replace(form.line("music"), value=str(path))))
    chosen = form.put(replace(form.line("drill"), value=AS_LAID))
    with refused("tempo: the routine says it"):
        open_run_through(chosen.put(replace(form.line("tempo"), value="90")))
    with refused("from eight: nothing is laid on eights 7 to the end"):
        open_run_through(chosen.put(replace(form.line("from_eight"), value="7")))
    request, opened = open_run_through(chosen.put(replace(form.line("from_eight"), value="4")))
    assert request.from_eight == 4 and opened.path == path
    without = offer_laid(chosen.put(replace(form.line("music"), value="a.flac")))
    assert without.value("drill") == "clubs_mills" and AS_LAID not in without.line("drill").choices


def test_a_language_that_is_chosen_is_spoken_at_once_and_at_the_next_start(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))
    monkeypatch.delenv(VARIABLE)

    async def run() -> None:
        app = CoachApp(make_form(DRILLS), folder=tmp_path)
        async with app.run_test(size=(80, 24)) as pilot:
            await wait_until(pilot, lambda: bool(rows(app)))
            await pilot.press("up", "up", "up", "right")
            await wait_until(pilot, lambda: "Keulen: Mühlen vorwärts" in shown(app))
            assert app.screen.form.value("language") == "de" and "language" not in app.screen.form.chosen
            assert "F1 Hilfe" in shown(app) and "beobachtet von" in shown(app)
            speak(ENGLISH)
            assert choose_language([], kept_file()) == "" and spoken().code == "de"

    try:
        in_a_loop(run())
    finally:
        speak(ENGLISH)
