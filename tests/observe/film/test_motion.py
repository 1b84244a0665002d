"""Movement without a marker: periods and lags against the truth of rendered films, and what it says of itself."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest

from tempo_coach.observe.film.frames import look_at_film
from tempo_coach.observe.film.motion import Region, follow_motion
from tempo_coach.observe.trace.circles import find_circles
from tempo_coach.observe.trace.selection import pick
from tempo_coach.observe.trace.tracked_body import observe
from tempo_coach.reasons import Reason, Why
from tempo_coach.score.trace.body_lag import measure_lag
from tests.generators import films, movement
from tests.refused import refused

if TYPE_CHECKING:
    from pathlib import Path

SIZE = (320, 184)
GREY = (60, 60, 65)
LEFT, RIGHT = Region("left", 0, 0, (160, 184)), Region("right", 160, 0, (160, 184))
TICKS = movement.ticks(np.random.default_rng(1), 12, 0.6, start=-0.3)
LEAD, TRAIL = movement.Phase(TICKS), movement.Phase(TICKS + 0.15)


def film_of(folder: Path, times: np.ndarray, **how: object) -> object:
    markers = {
        "left": films.Marker(GREY, films.turning(LEAD, (80, 90), 50)),
        "right": films.Marker(GREY, films.turning(TRAIL, (240, 90), 50, -1)),
    }
    scene = films.Scene(markers if not how.pop("empty", False) else {}, times, SIZE, **how)
    return look_at_film(films.write_film(folder / "a.mp4", films.pictures(scene), size=SIZE, crf=20))


@pytest.mark.parametrize(("rate", "seconds", "how"), [(30, 5, {}), (60, 4, {"shake": 3.0}), (120, 3, {})])
def test_grey_clubs_give_periods_and_their_lag(tmp_path, rate, seconds, how):
    times = films.steady_times(seconds, rate, jitter=0.05)
    trace = follow_motion(film_of(tmp_path, times, **how), [LEFT, RIGHT]).trace
    found = find_circles(pick(trace, point="left")).time
    true = movement.low_points(LEAD, times)
    true = true[(true > 0.4) & (true < seconds - 0.4)]
    error = found[np.abs(found[:, None] - true).argmin(axis=0)] - true
    assert np.abs(error).max() < 0.012
    assert np.diff(error).std() < 0.008
    lag = measure_lag(*(observe(pick(trace, point=name)) for name in ("right", "left"))).lag.degrees
    # its constant is the pictures' (up to 20 ms, here 12 degrees), its changes are hers
    assert lag == pytest.approx(90, abs=12)


def test_it_says_that_it_is_less_sure_than_a_marker(tmp_path):
    filmed = follow_motion(film_of(tmp_path, films.steady_times(2, 60)), [LEFT])
    assert filmed.confidence("left").max() <= 0.5
    assert Reason(Why.NO_MARKER) in filmed.notes


def test_a_stretch_can_be_left_out(tmp_path):
    filmed = follow_motion(film_of(tmp_path, films.steady_times(2, 60)), [Region("all")], without=[(0.5, 1.0)])
    inside = (filmed.trace.time >= 0.5) & (filmed.trace.time <= 1.0)
    assert np.isnan(filmed.trace.values[inside, 0]).all()
    assert not np.isnan(filmed.trace.values[~inside, 0]).all()


def test_where_nothing_moves_is_said(tmp_path):
    with refused("nothing moves in the part left"):
        follow_motion(film_of(tmp_path, films.steady_times(1, 30), empty=True), [LEFT])


@pytest.mark.parametrize(
    ("parts", "words"),
    [
        ([], "1 to 6 parts"),
        ([Region("a" + "bcdefgh"[k], 0, 0) for k in range(7)], "1 to 6 parts"),
        ([Region("left", 300, 0, (100, 100))], "within the picture of 320 × 184"),
        ([Region("left", 0, 0, (5, 100))], "too small"),
        ([LEFT, LEFT], "two are called left"),
        ([Region("acc")], "misread"),
    ],
)
def test_parts_that_make_no_sense_are_refused(tmp_path, parts, words):
    film = film_of(tmp_path, films.steady_times(0.2, 30))
    with refused(words):
        follow_motion(film, parts)


def test_a_camera_that_swings_over_the_hall_is_refused_with_what_to_film_instead(tmp_path):
    hall = np.random.default_rng(0).integers(60, 200, (24, 160, 3)).astype(np.uint8).repeat(8, axis=0).repeat(8, axis=1)
    times = films.steady_times(3, 30)
    seen = ((time, np.ascontiguousarray(hall[:184, (at := int(60 * time)) : at + 320])) for time in times)
    with refused("film from one place"):
        follow_motion(look_at_film(films.write_film(tmp_path / "pan.mp4", seen, size=SIZE, crf=20)), [Region("her")])


@pytest.mark.parametrize("begin", [0.7, 0.8])
def test_marks_at_which_she_begins_and_ends_are_seen(tmp_path, begin):
    turned = films.turning(lambda time: np.clip((time - begin) / 0.6, 0, 8), (80, 46), 25)
    scene = films.Scene({"her": films.Marker(GREY, turned)}, films.steady_times(begin + 5.5, 30), (160, 92))
    path = films.write_film(tmp_path / "a.mp4", films.pictures(scene), size=(160, 92), crf=20)
    marks = observe(pick(follow_motion(look_at_film(path), [Region("her")]).trace, point="her")).circles.time
    assert marks[[0, -1]] == pytest.approx([begin, begin + 8 * 0.6], abs=0.06)
    assert len(marks) == 9
