"""The colours of a film's markers: proposed, by name as the film shows them, by a pixel, and told apart."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest

from tempo_coach.errors import CoachError
from tempo_coach.observe.film import colour_choice
from tempo_coach.observe.film.colour_choice import UNASKED, choose_colours, colour_key
from tempo_coach.observe.film.colours import Colour, named_colour
from tempo_coach.observe.film.marker_trace import MarkerSpec
from tempo_coach.observe.film.spots import SearchImage, backdrop_of, to_search_image
from tempo_coach.reasons import Reason, Why
from tempo_coach.report.words.errors import hint_of, message_of
from tests.generators import films

SIZE = (320, 192)
TIMES = films.steady_times(0.8, 15)
FILM = SimpleNamespace(path="Zoë 🤸.mp4")
MOVING = {"blue": (films.BLUE, 60), "green": (films.GREEN, 160), "red": (films.RED, 260)}


def views_of(*names: str) -> list[SearchImage]:
    markers = {
        name: films.Marker(MOVING[name][0], films.turning(lambda t: t / 0.6, (MOVING[name][1], 90), 40))
        for name in names
    }
    return [to_search_image(films.to_frame(p, t)) for t, p in films.pictures(films.Scene(markers, TIMES, SIZE))]


THREE = views_of("blue", "green", "red")


def say(wanted: list[MarkerSpec], views: list[SearchImage]) -> tuple[list[Colour], list[Reason]]:
    return choose_colours(FILM, wanted, views, backdrop_of(views))  # type: ignore[arg-type]  # a film's name is enough


def test_where_none_is_named_two_are_taken_and_the_others_said() -> None:
    colours, (note,) = say([], THREE)
    names = [colour.name for colour in colours]
    assert len(names) == UNASKED == 2
    (other,) = {"blue", "green", "red"} - set(names)
    assert note == Reason(Why.OTHER_COLOURS, ((other,),))
    one, notes = say([], views_of("blue"))
    assert ([colour.name for colour in one], notes) == (["blue"], [])


def test_colours_come_in_the_order_in_which_markers_were_named_by_their_own_name_too() -> None:
    colours, notes = say([MarkerSpec("left", "red"), MarkerSpec("blue")], THREE)
    assert ([colour.name for colour in colours], notes) == (["red", "blue"], [])


def test_a_pixel_tells_the_colour_and_the_markers_name_is_its_own(monkeypatch: pytest.MonkeyPatch) -> None:
    asked: list[float] = []

    def near(film: object, time: float) -> films.Frame:
        asked.append(time)
        markers = {"a": films.Marker(films.PINK, lambda t: np.full((len(np.atleast_1d(t)), 2), (100, 90)))}
        ((_, picture),) = films.pictures(films.Scene(markers, np.array([0.0]), SIZE))
        return films.to_frame(picture)

    monkeypatch.setattr(colour_choice, "frame_near", near)
    (mine, named), _ = say([MarkerSpec("Zoë", at=(1.5, 100, 90)), MarkerSpec("Bo", "club", at=(2.0, 100, 90))], THREE)
    assert asked == [1.5, 2.0]
    assert (mine.name, mine.sampled, named.name) == ("Zoë", True, "club")
    assert mine.values[1:] == pytest.approx(named_colour("pink").values[1:], abs=12)


def test_a_colour_that_is_not_seen_is_said_with_what_is() -> None:
    with pytest.raises(CoachError) as caught:
        say([MarkerSpec("left", "yellow")], views_of("blue"))
    assert (message_of(caught.value), caught.value.where, hint_of(caught.value)) == (
        "nothing yellow that moves was seen in the film",
        FILM.path,
        "what is coloured and moves: blue",
    )


def test_where_nothing_coloured_moves_the_next_step_is_said() -> None:
    nothing = views_of()
    with pytest.raises(CoachError) as caught:
        say([MarkerSpec("left", "yellow")], nothing)
    assert hint_of(caught.value) == "show a pixel of it: --at TIME X Y"
    with pytest.raises(CoachError) as caught:
        say([], nothing)
    assert (message_of(caught.value), caught.value.where, hint_of(caught.value)) == (
        "nothing that moves in it is clearly coloured",
        FILM.path,
        "name its colour (--marker NAME=COLOUR), show a pixel (--at), or follow what repeats (--part NAME)",
    )


def by_pixel(hue_deg: float, *, bright: bool = False) -> Colour:
    hue = np.radians(hue_deg)
    return Colour("a", (120.0, 128 + 60 * np.cos(hue), 128 + 60 * np.sin(hue)), bright=bright, sampled=True)


def test_names_tell_colours_apart_and_pixels_by_their_hue() -> None:
    assert colour_key(named_colour("red")) == "red"
    assert colour_key(by_pixel(40, bright=True)) == "bright"
    assert colour_key(by_pixel(31)) == colour_key(by_pixel(49)) == "hue 2"
    assert colour_key(by_pixel(31)) != colour_key(by_pixel(29))


def test_hues_on_both_sides_of_half_a_turn_are_one() -> None:
    assert colour_key(by_pixel(178)) == colour_key(by_pixel(-178)) == colour_key(by_pixel(180))
    assert len({colour_key(by_pixel(hue)) for hue in range(-180, 180, 20)}) == 18
