"""The exposure, from smears; centres of smeared markers put back onto the bend, held to the centroid of an arc."""

from __future__ import annotations

import numpy as np
import pytest

from tempo_coach.observe.film.frames import look_at_film
from tempo_coach.observe.film.marker_trace import FEWEST, MarkerSpec, deblur_path, find_exposure, follow_film
from tempo_coach.observe.film.paths import MarkerPath
from tempo_coach.observe.film.spots import Spots
from tests.generators import films

RADIUS, PERIOD, MARKER = 160.0, 0.6, 8.0
CENTRE = np.array([300.0, 200.0])
TIMES = films.steady_times(3, 60, jitter=0.1)


def smeared(exposure: float, times: np.ndarray = TIMES) -> tuple[MarkerPath, list[Spots]]:
    """A disc that turns: its centroids and variances over the exposure, by averaging very many instants."""
    at = times[:, None] + exposure * (np.arange(400) + 0.5 - 200) / 400
    angle = 2 * np.pi * at / PERIOD
    arc = CENTRE + RADIUS * np.stack([np.cos(angle), np.sin(angle)], axis=2)
    middle = arc.mean(axis=1)
    off = arc - middle[:, None]
    spread = np.stack([off[..., 0] ** 2, off[..., 0] * off[..., 1], off[..., 1] ** 2], axis=2).mean(axis=1)
    spread += np.array([1, 0, 1]) * MARKER**2 / 4  # a disc's own variance
    one, none = np.ones(1), np.zeros(1, bool)
    spots = [Spots(*place[:, None], one, one, none, each[None]) for place, each in zip(middle, spread, strict=True)]
    return MarkerPath(*middle.T, np.ones(len(times)), ()), spots


def distance(path: MarkerPath) -> np.ndarray:
    return np.hypot(*(np.column_stack([path.x, path.y]) - CENTRE).T)


@pytest.mark.parametrize("exposure", [1 / 500, 1 / 120, 1 / 60])
def test_the_exposure_is_read_from_the_smear(exposure):
    assert find_exposure(TIMES, *smeared(exposure)) == pytest.approx(exposure, rel=0.03)


def test_no_exposure_is_longer_than_the_step_between_pictures():
    assert find_exposure(TIMES, *smeared(0.04)) == pytest.approx(1 / 60, rel=0.02)


def test_a_smeared_circle_gets_its_radius_back():
    """Without it the centroid of a circular arc of angle a lies r (1 - sin(a/2) / (a/2)) inside (textbook formula)."""
    exposure = 1 / 60
    path, _ = smeared(exposure)
    half = np.pi * exposure / PERIOD
    assert distance(path) == pytest.approx(RADIUS * np.sin(half) / half, abs=1e-3)
    back = deblur_path(TIMES, path, exposure)
    assert distance(back)[1:-1] == pytest.approx(RADIUS, abs=0.02)
    assert distance(path).max() < RADIUS - 0.19


def test_a_straight_path_and_no_exposure_change_nothing():
    path = MarkerPath(500 * TIMES, 100 - 50 * TIMES, np.ones(TIMES.size), ())
    back = deblur_path(TIMES, path, 1 / 60)
    assert back.x == pytest.approx(path.x) and back.y == pytest.approx(path.y)
    bent, _ = smeared(1 / 60)
    assert np.array_equal(deblur_path(TIMES, bent, 0.0).x, bent.x)


def test_gaps_stay_gaps_and_the_pictures_beside_them_stay_as_they_were():
    path, spots = smeared(1 / 60)
    gap = slice(60, 70)
    x = path.x.copy()
    x[gap] = np.nan
    holed = path._replace(x=x)
    back = deblur_path(TIMES, holed, 1 / 60)
    assert np.array_equal(np.isnan(back.x), np.isnan(x))
    assert back.x[59] == x[59] and back.x[70] == x[70] and back.x[58] != x[58]
    assert find_exposure(TIMES, holed, spots) == pytest.approx(1 / 60, rel=0.03)


@pytest.mark.parametrize("count", [0, 1, 2, FEWEST])
def test_too_few_pictures_tell_no_exposure(count):
    path, spots = smeared(1 / 60, TIMES[:count])
    assert find_exposure(TIMES[:count], path, spots) == 0
    assert deblur_path(TIMES[:count], path, 1 / 60).x.size == count


def test_a_marker_that_rests_tells_no_exposure_and_does_no_harm():
    path, spots = smeared(1 / 60)
    still = path._replace(x=np.full(TIMES.size, 5.0), y=np.full(TIMES.size, 7.0))
    assert find_exposure(TIMES, still, spots) == 0


def test_in_a_film_with_a_long_exposure_a_circle_keeps_its_size(tmp_path):
    """At 1/30 s and a circle in 0.6 s the middle of a smear lies 0.5 px inside of a circle of 100 px."""
    scene = films.Scene(
        {"left": films.Marker(films.RED, films.turning(lambda t: t / PERIOD, (160, 128), 100), 13.0)},
        films.steady_times(2.5, 30), (320, 256), exposure=1 / 30,
    )  # fmt: skip
    film = look_at_film(films.write_film(tmp_path / "a.mp4", films.pictures(scene), size=scene.size, crf=18))
    values = follow_film(film, [MarkerSpec("left", "red")]).trace.values
    radius = np.hypot(values[1:-1, 0] - 160, -values[1:-1, 1] - 128)
    assert np.nanmean(radius) == pytest.approx(100, abs=0.2)
