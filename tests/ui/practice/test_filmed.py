"""A filmed take in the screens: the film is chosen afterwards, what is wrong is said, and the scorecard appears."""

from __future__ import annotations

import os
import threading
from dataclasses import replace
from time import sleep
from typing import TYPE_CHECKING

import numpy as np
import pytest
from textual.events import Paste

from tempo_coach.coach.film_choices import keep_film
from tempo_coach.live.practice.session import Stage
from tempo_coach.observe.film.frames import look_at_film
from tempo_coach.observe.take.take_file import read_take
from tempo_coach.ui.palette import PLAIN
from tempo_coach.ui.practice.afterwards import draw_reading
from tempo_coach.ui.practice.filmed import (
    ASK,
    CARE,
    NO_MARKER,
    NOT_FILMED,
    FilmedScreen,
    make_film_form,
    read_film_form,
)
from tempo_coach.ui.practice.practise import PractiseScreen
from tests.generators import films, movement
from tests.refused import refused
from tests.ui import fakes
from tests.ui.fakes import in_a_loop, lay, wait_until
from tests.ui.test_screens import SIZES, conductor_of, open_app, shown, start

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from tempo_coach.coach.practising.form import Form

PLAN = lay("clubs_mills", tempo_bpm=120, cycles=8)
LATE = 0.04


@pytest.fixture(scope="module")
def film(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A take that is 40 ms late all through; the film begins with the take clock."""
    markers = {}
    for k, (hand, colour) in enumerate(zip(PLAN.hands, (films.RED, films.YELLOW), strict=True)):
        done = PLAN.moments.time[PLAN.moments.of_hand(hand)] + LATE
        path = films.turning(movement.Phase(done), (45 + 70 * k, 45), 28, 1 - 2 * k)
        markers[hand] = films.Marker(colour, path, 5.0)
    scene = films.Scene(markers, films.steady_times(PLAN.duration + 1, 30), (160, 96))
    folder = tmp_path_factory.mktemp("film")
    return films.write_film(folder / "mills of today.mp4", films.pictures(scene), size=scene.size, crf=18)


def fill_in(**values: str) -> Form:
    form = make_film_form(PLAN)
    for key, value in values.items():
        form = form.put(replace(form.line(key.replace("_", " ")), value=value))
    return form


def test_what_is_typed_is_what_is_asked() -> None:
    form = fill_in(film=" '~/a b.mp4' ", hand_right="red", hand_left=NOT_FILMED, clap="2.1, 0.5", without="1-2 3.5-4")
    asked = read_film_form(form, PLAN)
    assert asked.path.name == "a b.mp4" and "~" not in str(asked.path)
    assert [(marker.name, marker.colour) for marker in asked.wanted] == [("right", "red")]
    assert asked.clap == (2.1, 0.5)
    assert asked.without == ((1.0, 2.0), (3.5, 4.0))
    bare = read_film_form(fill_in(film="a.mp4", hand_right=NO_MARKER, hand_left=NOT_FILMED), PLAN)
    assert ([part.name for part in bare.parts], bare.wanted) == (["right"], ())
    rope = lay("rope_figure_eight")
    form = make_film_form(rope)
    usual = read_film_form(form.put(replace(form.line("film"), value="a.mp4")), rope)
    assert (usual.wanted, usual.clap, usual.without) == ((), None, ())


@pytest.mark.parametrize(
    ("values", "said"),
    [
        ({}, "expected the name of a film"),
        ({"film": "a.mp4"}, "left: expected the colour of each hand"),
        ({"film": "a.mp4", "hand_left": NOT_FILMED, "hand_right": NOT_FILMED}, "expected the colour of each hand"),
        ({"film": "a.mp4", "hand_left": NO_MARKER}, "expected the other hand not to be filmed"),
        ({"film": "a.mp4", "clap": "2.1"}, "expected two numbers of seconds"),
        ({"film": "a.mp4", "clap": "soon later"}, "expected two numbers of seconds"),
        ({"film": "a.mp4", "without": "4-3"}, "12.0-13.5"),
        ({"film": "a.mp4", "without": "4"}, "12.0-13.5"),
    ],
)
def test_what_makes_no_sense_is_said(values: dict[str, str], said: str) -> None:
    colours = {"hand_right": "red", "hand_left": ASK if values == {"film": "a.mp4"} else "blue"}
    with refused(said):
        read_film_form(fill_in(**(colours | values)), PLAN)


@pytest.mark.parametrize(("width", "height"), SIZES)
def test_the_screen_says_that_nothing_is_kept(width: int, height: int) -> None:
    for done in ("", "reading the film …  40%"):
        drawn = draw_reading(done, "no", CARE, width=width, height=height, palette=PLAIN)
        assert len(drawn) == height and {row.cell_len for row in drawn} == {width}
        said = " ".join(" ".join(row.plain for row in drawn).split())
        assert "nothing of it is copied, sent or kept" in said and "minors" in said
        assert "no" in said.split()
        assert ("40%" in said) == bool(done)


def test_a_film_is_chosen_afterwards_and_its_scorecard_appears(
    film: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    opened: list[Path] = []
    monkeypatch.setattr("tempo_coach.ui.practice.practise.show_file", opened.append)

    async def run() -> None:
        kept: list[tuple[int, str]] = []
        options = {"observed_by": "film", "at_once": True,
                   "keep": lambda done, how: kept.append((len(done.take.onsets), how))}  # fmt: skip
        stage = fakes.Stage(PLAN, folder=tmp_path, options=options)
        app = open_app(stage)
        async with app.run_test(size=(80, 24)) as pilot:
            await start(app, pilot)
            stage.clock.now += PLAN.duration + 1
            await wait_until(pilot, lambda: "F2 its film" in shown(app))
            assert "the scorecard comes from there" in shown(app) and kept == []
            await pilot.press("f2")
            await wait_until(pilot, lambda: isinstance(app.screen, FilmedScreen))
            await pilot.press("enter")
            await wait_until(pilot, lambda: "expected the name of a film" in shown(app))
            app.screen.post_message(Paste(f"'{film}'\n"))
            await wait_until(pilot, lambda: "mills of today.mp4" in shown(app))
            # r leads to red, y to yellow: a letter chooses what begins with it
            await pilot.press("enter")
            await wait_until(pilot, lambda: "colour of each hand's marker" in " ".join(shown(app).split()))
            await pilot.press("down", "r", "down", "y", "enter")
            await wait_until(pilot, lambda: "has no sound to put" in " ".join(shown(app).split()))
            await pilot.press("down", *"1 1", "enter")
            await wait_until(pilot, lambda: isinstance(app.screen, PractiseScreen))
            await wait_until(pilot, lambda: "cycle" in shown(app) and "F2 its film" not in shown(app))
            (done,) = conductor_of(app).takes.done
            assert done.card.value("bias_ms") == pytest.approx(1000 * LATE, abs=5)
            assert len(done.card.missed) == len(done.card.extra_time) == 0
            assert kept == [(len(PLAN.moments), "film")]
            assert conductor_of(app).session.stage is Stage.AFTER
            # her cycle beside the median one, as a film of its own
            await pilot.press("f7")
            await wait_until(pilot, lambda: bool(opened))
            assert "1_film_clip.mp4" in "".join(shown(app).split())
            assert look_at_film(opened[0]).duration > 3
            # what she said of the film is still there when she comes again
            await pilot.press("f2")
            await wait_until(pilot, lambda: "mills of today.mp4" in shown(app))
            await pilot.press("escape")
            await wait_until(pilot, lambda: isinstance(app.screen, PractiseScreen))

    in_a_loop(run())
    assert sorted(path.name for path in tmp_path.iterdir()) == [
        "1.take.jsonl",
        "1_film.take.jsonl",
        "1_film_clip.mp4",
    ]
    take = read_take(tmp_path / "1_film.take.jsonl")
    assert take.observed_by == "film"
    assert np.median(take.onsets.time - PLAN.moments.time) == pytest.approx(LATE, abs=0.005)


def test_the_newest_film_is_offered_and_what_was_chosen_for_it_is_there_again(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = tmp_path / "films"
    folder.mkdir()
    monkeypatch.chdir(folder)
    monkeypatch.setenv("HOME", str(tmp_path))
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    old, new = folder / "before.mp4", folder / "since.MOV"
    old.write_bytes(b"a film of last year")
    os.utime(old, (1e9, 1e9))
    keep_film(old, {"hand right": "green", "hand left": NOT_FILMED})

    async def run() -> None:
        stage = fakes.Stage(PLAN, folder=tmp_path, options={"observed_by": "film", "at_once": True})
        app = open_app(stage)
        async with app.run_test(size=(80, 24)) as pilot:
            await start(app, pilot)
            stage.clock.now += PLAN.duration + 1
            await wait_until(pilot, lambda: "F2 its film" in shown(app))
            new.write_bytes(b"a film of this take")
            await pilot.press("f2")
            await wait_until(pilot, lambda: isinstance(app.screen, FilmedScreen) and "since.MOV" in shown(app))
            assert ASK in shown(app)
            await pilot.press("right")
            await wait_until(pilot, lambda: "before.mp4" in shown(app))
            assert "green" in shown(app) and NOT_FILMED in shown(app)

    in_a_loop(run())


def test_reading_can_be_stopped_and_nothing_stays(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    ended = threading.Event()

    def read_for_ever(*_: object, progress: Callable[[float], None], **__: object) -> None:
        try:
            while True:
                progress(0.25)
                sleep(0.01)
        finally:
            ended.set()

    monkeypatch.setattr("tempo_coach.coach.read_film", read_for_ever)

    async def run() -> None:
        stage = fakes.Stage(PLAN, folder=tmp_path, options={"observed_by": "film", "at_once": True})
        app = open_app(stage)
        async with app.run_test(size=(80, 24)) as pilot:
            await start(app, pilot)
            stage.clock.now += PLAN.duration + 1
            await wait_until(pilot, lambda: "F2 its film" in shown(app))
            await pilot.press("f2")
            await wait_until(pilot, lambda: isinstance(app.screen, FilmedScreen))
            assert isinstance(app.screen, FilmedScreen)
            app.screen.form = fill_in(film="a.mp4", hand_right="red", hand_left="blue")
            await pilot.press("enter")
            await wait_until(pilot, lambda: "reading the film …  25%" in shown(app))
            await pilot.press("x", "enter")  # nothing but Escape does anything
            await pilot.press("escape")
            await wait_until(pilot, lambda: "F2 its film" in shown(app) and ended.is_set())

    in_a_loop(run())
    assert [path.name for path in tmp_path.iterdir()] == ["1.take.jsonl"]
