"""Colours by name and by pixel."""

from __future__ import annotations

import colorsys

import numpy as np
import pytest

from tempo_coach.observe.film.colours import SHADES, colour_at, name_hues, named_colour, to_ycc
from tests.generators import films
from tests.refused import refused


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
    with refused("did you mean green"):
        named_colour("gren")
    with refused("expected a colour"):
        named_colour("plaid")
    assert named_colour("Cyan").name == "turquoise"


def test_a_pixel_outside_or_without_colour_is_refused():
    ((_, picture),) = films.pictures(films.Scene({}, np.array([0.0]), (320, 192)))
    one = films.to_frame(picture)
    for x, y, words in ((-1, 5, "320 × 192"), (320, 5, "320 × 192"), (100, 20, "neither coloured nor bright")):
        with refused(words):
            colour_at(one, x, y, name="a")


def test_every_name_has_a_hue_of_its_own():
    for name in SHADES:
        if name != "white":
            assert name_hues(*(value - 128 for value in named_colour(name).values[1:])) == [name]


def test_a_pale_pixel_is_a_colour_by_its_distance_from_what_is_behind_it():
    pale = films.Marker((170, 140, 140), lambda times: np.tile([100.0, 60.0], (times.size, 1)), 12.0)
    ((_, picture),) = films.pictures(films.Scene({"club": pale}, np.array([0.0]), (320, 192)))
    one = films.to_frame(picture)
    assert colour_at(one, 100, 60, name="a", behind=(128, 128)).sampled
    with refused("use brighter tape"):
        colour_at(one, 100, 60, name="a", behind=(125, 140))
