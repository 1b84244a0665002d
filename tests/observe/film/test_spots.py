"""The centre of a spot to a fraction of a pixel; what moves and is coloured is proposed."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tempo_coach.observe.film.colours import colour_at, named_colour
from tempo_coach.observe.film.spots import Finder, SearchImage, backdrop_of, fit_colour, propose, to_search_image
from tests.generators import films

if TYPE_CHECKING:
    from tempo_coach.observe.film.frames import Frame

SIZE = (320, 192)


def shown(markers: dict[str, films.Marker], times: np.ndarray, **how: object) -> list[Frame]:
    return [films.to_frame(p, t) for t, p in films.pictures(films.Scene(markers, times, SIZE, **how))]


def still(x: float, y: float) -> films.Path2D:
    return lambda times: np.full((len(np.atleast_1d(times)), 2), (x, y))


EMPTY = backdrop_of([to_search_image(each) for each in shown({}, np.array([0.0]), noise=0)])


@pytest.mark.parametrize("colour", [films.RED, films.GREEN, films.BLUE, films.YELLOW, films.WHITE])
@given(x=st.floats(40, 280), y=st.floats(40, 150))
def test_the_centre_of_a_marker_is_found_to_a_fifth_of_a_pixel(colour, x, y):
    (one,) = shown({"a": films.Marker(colour, still(x, y))}, np.array([0.0]), noise=0)
    marker = colour_at(one, round(x), round(y), name="a")
    spots = Finder(marker, EMPTY).find(to_search_image(one))
    assert np.hypot(spots.x[0] - x, spots.y[0] - y) < 0.2
    assert spots.mass[0] == pytest.approx(np.pi * 7.0**2, rel=0.2)


def test_a_blurred_marker_has_its_centre_half_way_through_the_exposure():
    times = np.array([0.5])
    path = films.turning(lambda t: t / 0.6, (160, 96), 60)
    (one,) = shown({"a": films.Marker(films.RED, path)}, times, exposure=1 / 60, noise=0)
    spots = Finder(named_colour("red"), EMPTY).find(to_search_image(one))
    assert np.hypot(*(np.array([spots.x[0], spots.y[0]]) - path(times)[0])) < 0.4


def test_a_bright_marker_before_somebody_dark_keeps_its_centre():
    x, y = 171.3, 110.6  # on the edge of dark clothes, which reach from 150 to 170
    (one,) = shown({"a": films.Marker(films.WHITE, still(x, y))}, np.array([0.0]), people=1, noise=0)
    spots = Finder(named_colour("white"), EMPTY).find(to_search_image(one))
    assert np.hypot(spots.x[0] - x, spots.y[0] - y) < 0.5


@pytest.mark.parametrize("side", [100, 300])
def test_a_spot_may_fill_more_of_a_picture_than_16_bits_can_count(side):
    red = named_colour("red")
    planes = [np.full((320, 320), value, np.uint8) for value in (128, 128, 128)]
    backdrop = np.stack(planes)
    for plane, value in zip(planes, red.values, strict=True):
        plane[10 : 10 + side, 10 : 10 + side] = round(value)
    spots = Finder(red, backdrop).find(SearchImage(tuple(planes), 1.0, (0.0, 0.0), (0.0, 0.0)))
    assert (spots.x, spots.y) == (pytest.approx([9.5 + side / 2]), pytest.approx([9.5 + side / 2]))
    assert spots.mass == pytest.approx([side**2], rel=0.02)


def test_only_what_differs_from_the_backdrop_is_searched_and_nothing_is_lost_by_it(monkeypatch):
    rng = np.random.default_rng(2)
    red = named_colour("red")
    backdrop = np.repeat(np.uint8([[[90]], [[128]], [[128]]]), 203, axis=1).repeat(317, axis=2)  # no whole tiles
    planes = [plane + rng.integers(0, 3, plane.shape, np.uint8) for plane in backdrop]
    places = [(0, 0), (2, 15), (15, 16), (33, 60), (47, 47), (100, 180), (199, 100), (120, 314), (198, 311), (140, 140)]
    for top, left in places:
        for plane, value in zip(planes, red.values, strict=True):
            plane[top : top + 4, left : left + 3] = round(value)
    finder = Finder(red, backdrop, margin=8)
    view = SearchImage(tuple(planes), 1.0, (0.0, 0.0), (0.0, 0.0))
    found = finder.find(view, (3, -2))
    assert found.x.size == len(places)
    monkeypatch.setattr("tempo_coach.observe.film.spots._MOST_CHANGED", -1.0)  # the whole picture
    for few, all_of_it in zip(found, finder.find(view, (3, -2)), strict=True):
        assert np.sort(few, axis=0) == pytest.approx(np.sort(all_of_it, axis=0))


def test_what_moves_and_is_coloured_is_proposed_and_what_stands_still_is_not():
    times = films.steady_times(1, 15)
    moving = {
        "a": films.Marker(films.GREEN, films.turning(lambda t: t / 0.6, (100, 90), 50)),
        "b": films.Marker(films.BLUE, films.turning(lambda t: t / 0.6, (220, 90), 50)),
    }
    banner = ((films.RED, (10, 10, 60, 20)),)
    views = [to_search_image(each) for each in shown(moving, times, people=1, coloured=banner)]
    assert {colour.name for colour in propose(views, backdrop_of(views))} == {"green", "blue"}
    assert fit_colour(named_colour("yellow"), views, backdrop_of(views)) is None
