"""Colours by name and by pixel; the centre of a spot to a fraction of a pixel; a camera that shakes."""

from __future__ import annotations

import colorsys

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tempo_coach.errors import CoachError
from tempo_coach.observe.film_frame import Frame
from tempo_coach.observe.markers import SHADES, colour_at, name_hues, named_colour, to_ycc
from tempo_coach.observe.spots import Finder, View, backdrop_of, fit_colour, look, propose
from tempo_coach.observe.steady import Steady, enlarge, stands_still, take_out
from tests.generators import films

SIZE = (320, 192)


def frame(picture: np.ndarray, time: float = 0.0) -> Frame:
    """A picture as a decoder would give it, without the losses of a coder."""
    rows, columns = picture.shape[:2]
    flat = films._to_yuv(picture).ravel()
    luma, rest = flat[: rows * columns].reshape(rows, columns), flat[rows * columns :]
    blue, red = rest.reshape(2, rows // 2, columns // 2)
    return Frame(time, luma, blue, red, (0.0, 0.5))


def shown(markers: dict[str, films.Marker], times: np.ndarray, **how: object) -> list[Frame]:
    return [frame(p, t) for t, p in films.pictures(films.Scene(markers, times, SIZE, **how))]


def still(x: float, y: float) -> films.Path2D:
    return lambda times: np.full((len(np.atleast_1d(times)), 2), (x, y))


EMPTY = backdrop_of([look(each) for each in shown({}, np.array([0.0]), noise=0)])


@pytest.mark.parametrize("colour", [films.RED, films.GREEN, films.BLUE, films.YELLOW, films.WHITE])
@given(x=st.floats(40, 280), y=st.floats(40, 150))
def test_the_centre_of_a_marker_is_found_to_a_fifth_of_a_pixel(colour, x, y):
    (one,) = shown({"a": films.Marker(colour, still(x, y))}, np.array([0.0]), noise=0)
    marker = colour_at(one, round(x), round(y), name="a")
    spots = Finder(marker, EMPTY).find(look(one))
    assert np.hypot(spots.x[0] - x, spots.y[0] - y) < 0.2
    assert spots.mass[0] == pytest.approx(np.pi * 7.0**2, rel=0.2)


def test_a_blurred_marker_has_its_centre_half_way_through_the_exposure():
    times = np.array([0.5])
    path = films.turning(lambda t: t / 0.6, (160, 96), 60)
    (one,) = shown({"a": films.Marker(films.RED, path)}, times, exposure=1 / 60, noise=0)
    spots = Finder(named_colour("red"), EMPTY).find(look(one))
    assert np.hypot(*(np.array([spots.x[0], spots.y[0]]) - path(times)[0])) < 0.4


def test_a_bright_marker_before_somebody_dark_keeps_its_centre():
    x, y = 171.3, 110.6  # on the edge of dark clothes, which reach from 150 to 170
    (one,) = shown({"a": films.Marker(films.WHITE, still(x, y))}, np.array([0.0]), people=1, noise=0)
    spots = Finder(named_colour("white"), EMPTY).find(look(one))
    assert np.hypot(spots.x[0] - x, spots.y[0] - y) < 0.5


@pytest.mark.parametrize("side", [100, 300])
def test_a_spot_may_fill_more_of_a_picture_than_16_bits_can_count(side):
    red = named_colour("red")
    planes = [np.full((320, 320), value, np.uint8) for value in (128, 128, 128)]
    backdrop = np.stack(planes)
    for plane, value in zip(planes, red.values, strict=True):
        plane[10 : 10 + side, 10 : 10 + side] = round(value)
    spots = Finder(red, backdrop).find(View(tuple(planes), 1.0, (0.0, 0.0), (0.0, 0.0)))
    assert (spots.x, spots.y) == (pytest.approx([9.5 + side / 2]), pytest.approx([9.5 + side / 2]))
    assert spots.mass == pytest.approx([side**2], rel=0.02)


def test_colours_of_names_lie_where_the_standard_puts_them():
    """In the range of film of ITU-R BT.601 pure red is (81, 90, 240), blue (41, 240, 110), white (235, 128, 128)."""
    assert to_ycc((255, 0, 0)) == pytest.approx((81, 90, 240), abs=0.7)
    assert to_ycc((0, 0, 255)) == pytest.approx((41, 240, 110), abs=0.7)
    assert to_ycc((255, 255, 255)) == pytest.approx((235, 128, 128), abs=1e-9)


@pytest.mark.parametrize(
    ("degrees", "name"), [(0, "red"), (28, "orange"), (55, "yellow"), (130, "green"), (180, "turquoise"), (222, "blue")]
)
def test_hues_have_the_names_that_people_give_them(degrees, name):
    """Hue circle of HSV by Python's colorsys: red at 0°, yellow at 60°, green at 120°, blue at 240°."""
    rgb = [255 * value for value in colorsys.hsv_to_rgb(degrees / 360, 0.9, 0.85)]
    assert name_hues(*(value - 128 for value in to_ycc(rgb)[1:])) == [name]


def test_a_wrong_colour_is_refused_and_the_nearest_named():
    with pytest.raises(CoachError, match="did you mean green"):
        named_colour("gren")
    with pytest.raises(CoachError, match="expected a colour"):
        named_colour("plaid")
    assert named_colour("Cyan").name == "turquoise"


def test_a_pixel_outside_or_without_colour_is_refused():
    (one,) = shown({}, np.array([0.0]))
    for x, y, words in ((-1, 5, "320 × 192"), (320, 5, "320 × 192"), (100, 20, "neither coloured nor bright")):
        with pytest.raises(CoachError, match=words):
            colour_at(one, x, y, name="a")


def test_what_moves_and_is_coloured_is_proposed_and_what_stands_still_is_not():
    times = films.steady_times(1, 15)
    moving = {
        "a": films.Marker(films.GREEN, films.turning(lambda t: t / 0.6, (100, 90), 50)),
        "b": films.Marker(films.BLUE, films.turning(lambda t: t / 0.6, (220, 90), 50)),
    }
    banner = ((films.RED, (10, 10, 60, 20)),)
    views = [look(each) for each in shown(moving, times, people=1, coloured=banner)]
    assert {colour.name for colour in propose(views, backdrop_of(views))} == {"green", "blue"}
    assert fit_colour(named_colour("yellow"), views, backdrop_of(views)) is None


@pytest.mark.parametrize("shake", [0.0, 4.0])
def test_the_camera_is_found_from_the_background(shake):
    times = films.steady_times(1.5, 20)
    scene = films.Scene(
        {"a": films.Marker(films.RED, films.turning(lambda t: t / 0.6, (160, 90), 40))},
        times, SIZE, shake=shake, people=1, seed=3,
    )  # fmt: skip
    lumas = [np.ascontiguousarray(frame(p).luma) for _, p in films.pictures(scene)]
    steady = Steady(lumas[0])
    moves = np.array([steady.move(luma) for luma in lumas])
    middle = np.array([160.0, 96.0])
    found = moves[:, :, :2] @ middle + moves[:, :, 2] - middle
    truth = np.array([scene.shift(t) - scene.shift(times[0]) for t in times])
    assert np.abs(found - truth).max() < 0.25
    assert stands_still(moves, *SIZE) == (shake == 0)
    x, y = take_out(moves, *(middle + truth).T)
    assert np.abs(np.column_stack([x, y]) - middle).max() < 0.25


def test_a_view_without_corners_is_not_followed_and_does_no_harm():
    flat = np.full((96, 160), 120, np.uint8)
    steady = Steady(flat)
    assert np.array_equal(steady.move(flat), [[1, 0, 0], [0, 1, 0]])
    assert steady.lost == 1


def test_moves_of_small_pictures_become_those_of_large_ones():
    """A turn about the centre of a large picture is the same turn when found in a picture half its size."""
    angle = 0.01
    turn = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
    small, large = np.array([79.5, 47.5]), np.array([159.5, 95.5])  # centres, the first pixel's centre being 0
    move = np.column_stack([turn, small - turn @ small])[None]
    assert enlarge(move, 2.0)[0, :, 2] == pytest.approx(large - turn @ large)


def test_every_name_has_a_hue_of_its_own():
    for name in SHADES:
        if name != "white":
            assert name_hues(*(value - 128 for value in named_colour(name).values[1:])) == [name]
