"""Films of markers to traces, against the paths that they were rendered from."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import pytest

from tempo_coach.observe.film.film_trace import FilmTrace, trace_to_csv
from tempo_coach.observe.film.frames import look_at_film
from tempo_coach.observe.film.marker_trace import MOST, MarkerSpec, follow_film
from tempo_coach.observe.trace.circles import find_circles
from tempo_coach.observe.trace.flights import find_flights
from tempo_coach.observe.trace.selection import pick
from tempo_coach.observe.trace.tables import parse_trace
from tempo_coach.observe.trace.trace import Channel, Trace
from tempo_coach.report.words.reasons import say_reason
from tests.generators import films, movement
from tests.refused import refused

if TYPE_CHECKING:
    from pathlib import Path

SIZE = (448, 256)
TIMES = films.steady_times(2.5, 60, jitter=0.1)


def circle(x: float, lag: float = 0.0, sense: int = 1) -> films.Path2D:
    return films.turning(lambda t: t / 0.6 - lag, (x, 120), 70, sense)


LEFT, RIGHT = circle(160), circle(290, 0.5, -1)


def film_of(folder: Path, markers: dict[str, films.Marker], times: np.ndarray = TIMES, **how: object) -> tuple:
    coder = {"crf": 18} | {key: how.pop(key) for key in ("turned", "metadata", "crf", "transfer") if key in how}
    scene = films.Scene(markers, times, SIZE, **how)
    path = films.write_film(folder / "film.mp4", films.pictures(scene), size=SIZE, **coder)
    return look_at_film(path), scene


@pytest.fixture(scope="module")
def hidden(tmp_path_factory):
    """A green marker that is hidden from 1.0 to 1.5 s."""
    marker = films.Marker(films.GREEN, LEFT, hidden=((1.0, 1.5),))
    return film_of(tmp_path_factory.mktemp("hidden"), {"left": marker})


def off(filmed: FilmTrace, name: str, scene: films.Scene) -> np.ndarray:
    """Distance from the truth in each picture, NaN in gaps."""
    at = [channel.point for channel in filmed.trace.channels].index(name)
    found = filmed.trace.values[:, at : at + 2] * (1, -1)
    truth = scene.markers[name].path(scene.times) + (scene.shift(scene.times[0]) if scene.shake else 0)
    return np.hypot(*(found - truth).T)


@pytest.mark.parametrize("name", ["left", "right"])
def test_of_two_alike_the_one_that_was_shown_is_followed(tmp_path, name):
    paths = {
        "left": films.turning(lambda t: t / 0.6, (70, 48), 25),
        "right": films.turning(lambda t: t / 0.6, (180, 48), 25),
    }
    times, size = films.steady_times(1.2, 30), (240, 96)
    scene = films.Scene({one: films.Marker(films.RED, path) for one, path in paths.items()}, times, size)
    film = look_at_film(films.write_film(tmp_path / "two.mp4", films.pictures(scene), size=size, crf=18))
    x, y = paths[name](times[20:21])[0]
    filmed = follow_film(film, [MarkerSpec("club", None, (float(times[20]), float(x), float(y)))])
    far = np.hypot(*(filmed.in_picture("club") - paths[name](filmed.trace.time)).T)
    assert np.nanmax(far) < 3
    assert filmed.share_seen("club") > 0.9


def test_two_markers_by_colour_are_followed_within_half_a_pixel(tmp_path):
    markers = {"left": films.Marker(films.YELLOW, LEFT), "right": films.Marker(films.GREEN, RIGHT)}
    film, scene = film_of(tmp_path, markers, people=1)
    filmed = follow_film(film, [MarkerSpec("left", "yellow"), MarkerSpec("right", "green")])
    assert filmed.names == ("left", "right")
    assert np.abs(filmed.trace.time - scene.times).max() < 1e-4
    for name in filmed.names:
        away = off(filmed, name, scene)
        assert np.nanmedian(away) < 0.4
        assert np.nanquantile(away, 0.95) < 1.2
        assert filmed.share_seen(name) > 0.97


def test_circles_in_the_film_are_timed_between_its_pictures(tmp_path):
    film, _ = film_of(tmp_path, {"left": films.Marker(films.BLUE, LEFT)})
    circles = find_circles(pick(follow_film(film, [MarkerSpec("left", "blue")]).trace))
    lows = circles.time[(circles.time > 0.3) & (circles.time < 2.3)]
    truth = 0.6 * np.round(lows / 0.6)
    assert len(lows) >= 3
    assert np.abs(lows - truth).max() < 0.004  # a quarter of the step between pictures


def test_two_of_one_colour_that_cross_keep_their_names(tmp_path):
    markers = {"left": films.Marker(films.RED, circle(190)), "right": films.Marker(films.RED, circle(270, 0.5, -1))}
    film, scene = film_of(tmp_path, markers)
    filmed = follow_film(film, [MarkerSpec("left", "red"), MarkerSpec("right", "red")])
    for name in filmed.names:
        assert np.nanmax(off(filmed, name, scene)) < 3
        assert filmed.share_seen(name) > 0.9


def test_pixels_say_which_is_which(tmp_path):
    markers = {"a": films.Marker(films.RED, LEFT), "b": films.Marker(films.RED, RIGHT)}
    film, scene = film_of(tmp_path, markers)
    at = {name: (TIMES[30], *np.round(marker.path(TIMES[30:31])[0])) for name, marker in markers.items()}
    renamed = replace(scene, markers={"second": markers["b"], "first": markers["a"]})
    filmed = follow_film(film, [MarkerSpec("second", at=at["b"]), MarkerSpec("first", at=at["a"])])
    for name in ("second", "first"):
        assert np.nanmax(off(filmed, name, renamed)) < 3


def test_a_hidden_marker_is_a_gap(hidden):
    film, scene = hidden
    filmed = follow_film(film, [MarkerSpec("left", "green")])
    gone = (scene.times >= 1.0) & (scene.times < 1.5)
    assert np.isnan(off(filmed, "left", scene)[gone]).all()
    assert np.isnan(off(filmed, "left", scene)[~gone]).mean() < 0.05
    assert np.nanmax(off(filmed, "left", scene)) < 3


def test_a_shaken_camera_is_taken_out_and_said(tmp_path):
    film, scene = film_of(tmp_path, {"left": films.Marker(films.GREEN, LEFT)}, shake=4.0)
    filmed = follow_film(film, [MarkerSpec("left", "green")])
    assert np.nanmedian(off(filmed, "left", scene)) < 0.6
    assert any("camera moved" in note for note in map(say_reason, filmed.notes))


def test_without_a_name_what_is_coloured_and_moves_is_followed(tmp_path):
    film, _ = film_of(tmp_path, {"left": films.Marker(films.PINK, LEFT)}, TIMES[:90], people=1)
    assert follow_film(film).names == ("pink",)
    colours = {"red": films.RED, "blue": films.BLUE, "green": films.GREEN}
    markers = {name: films.Marker(colour, circle(120 + 90 * k)) for k, (name, colour) in enumerate(colours.items())}
    film, _ = film_of(tmp_path, markers, films.steady_times(1, 30))
    filmed = follow_film(film)
    assert len(filmed.names) == 2
    (other,) = set(markers) - set(filmed.names)
    assert any(f"also coloured and moving: {other}" in note for note in map(say_reason, filmed.notes))


def test_a_turned_film_is_followed_upright(tmp_path):
    film, scene = film_of(tmp_path, {"left": films.Marker(films.GREEN, LEFT)}, TIMES[:90], turned=90)
    filmed = follow_film(film, [MarkerSpec("left", "green")])
    stored = scene.markers["left"].path(scene.times)
    upright = np.column_stack([stored[:, 1], SIZE[0] - 1 - stored[:, 0]])
    assert np.nanmedian(np.hypot(*(filmed.trace.values[:, :2] * (1, -1) - upright).T)) < 0.5


@pytest.mark.parametrize("transfer", [16, 18])
def test_markers_of_an_hdr_film_are_found_by_the_names_of_their_colours(tmp_path, transfer):
    colours = {"red": films.RED, "green": films.GREEN, "blue": films.BLUE, "yellow": films.YELLOW, "pink": films.PINK}
    markers = {
        name: films.Marker(colour, films.turning(lambda t, k=k: t / 0.6 + k / 5, (60 + 80 * k, 120), 32), 6.0)
        for k, (name, colour) in enumerate(colours.items())
    }
    film, scene = film_of(tmp_path, markers, films.steady_times(1, 30), transfer=transfer)
    filmed = follow_film(film, [MarkerSpec(name, name) for name in colours])
    for name in colours:
        assert filmed.share_seen(name) > 0.9
        assert np.nanmedian(off(filmed, name, scene)) < 0.8


def test_slow_motion_is_timed_as_it_was_lived(tmp_path):
    taken = films.steady_times(0.6, 240)
    slow = films.Scene({"left": films.Marker(films.GREEN, LEFT)}, taken, SIZE)
    shown = ((8 * time, picture) for time, picture in films.pictures(slow))
    films.write_film(tmp_path / "a.mp4", shown, size=SIZE, crf=18, metadata={"com.android.capture.fps": "240"})
    filmed = follow_film(look_at_film(tmp_path / "a.mp4"), [MarkerSpec("left", "green")])
    assert np.abs(filmed.trace.time - taken).max() < 0.6 * 0.02  # the mean rate that a file announces is 1 % off here
    exact = follow_film(look_at_film(tmp_path / "a.mp4", slowed=8), [MarkerSpec("left", "green")])
    assert np.abs(exact.trace.time - taken).max() < 1e-4


def test_a_stretch_can_be_left_out(hidden):
    film, scene = hidden
    filmed = follow_film(film, [MarkerSpec("left", "green")], without=[(0.3, 0.6), (1.9, 2.0)])
    inside = ((scene.times >= 0.3) & (scene.times <= 0.6)) | ((scene.times >= 1.9) & (scene.times <= 2.0))
    shows = ~inside & ((scene.times < 1.0) | (scene.times > 1.5))
    assert np.isnan(filmed.trace.values[inside, 0]).all()
    assert (filmed.confidence("left")[inside] == 0).all()
    assert np.isnan(filmed.trace.values[shows, 0]).mean() < 0.05
    assert [end for _, end in filmed.gaps("left")] == pytest.approx([0.6, 1.5, 2.0], abs=0.04)


def test_the_table_is_read_back_as_it_was(hidden):
    film, _ = hidden
    filmed = follow_film(film, [MarkerSpec("left", "green")])
    back = parse_trace(trace_to_csv(filmed.trace))
    mine, theirs = pick(filmed.trace, point="left"), pick(back, point="left")
    assert theirs.unit == "px" and theirs.axes == ("x", "y")
    assert theirs.time == pytest.approx(mine.time, abs=1e-6)
    assert theirs.values == pytest.approx(mine.values, abs=1e-3, nan_ok=True)


def test_free_fall_in_a_film_is_that_of_the_standard(tmp_path):
    """A thrown club, filmed and scaled, falls with the standard's 9.80665 m/s² (3rd CGPM, 1901)."""
    made = movement.toss(3, noise=0.0)
    metre = 60.0

    def path(times: np.ndarray) -> np.ndarray:
        at = [np.interp(times, made.trace.time, made.trace.values[:, k]) for k in (0, 1)]
        return np.column_stack([60 + metre * at[0], 250 - metre * at[1]])

    times = films.steady_times(2.9, 60)
    film, _ = film_of(tmp_path, {"club": films.Marker(films.YELLOW, path)}, times)
    trace = follow_film(film, [MarkerSpec("club", "yellow")]).trace
    seen = ~np.isnan(trace.values[:, 0])
    scaled = Trace(
        trace.time[seen],
        trace.values[seen, :2] / metre,
        [Channel("x", "position", "x", unit="m"), Channel("y", "position", "y", unit="m")],
    )
    (flight,) = find_flights(scaled)
    assert flight.gravity == pytest.approx(9.80665, rel=0.02)
    assert flight.release == pytest.approx(made.release, abs=0.03)


def test_a_colour_that_is_not_there_is_said_with_what_is(tmp_path):
    film, _ = film_of(tmp_path, {"left": films.Marker(films.BLUE, LEFT)}, TIMES[:60])
    with refused(r"nothing green.*blue"):
        follow_film(film, [MarkerSpec("left", "green")])


def test_a_film_in_which_nothing_moves_is_said(tmp_path):
    film, _ = film_of(tmp_path, {}, TIMES[:60])
    with refused("nothing that moves"):
        follow_film(film)


def test_too_many_markers_and_names_that_tables_misread_are_refused(tmp_path):
    film, _ = film_of(tmp_path, {"left": films.Marker(films.BLUE, LEFT)}, TIMES[:5])
    with refused("at most 6"):
        follow_film(film, [MarkerSpec(f"marker{'abcdefg'[k]}", "red") for k in range(MOST + 1)])
    for name in ("accel", "left,right", "left speed", ""):
        with refused("misread"):
            follow_film(film, [MarkerSpec(name, "red")])
    with refused("two are called left"):
        follow_film(film, [MarkerSpec("left", "red"), MarkerSpec("left", "blue")])
    with refused("no picture at 9"):
        follow_film(film, [MarkerSpec("left", at=(9, 5, 5))])
