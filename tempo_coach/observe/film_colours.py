"""The colours of a film's markers, as it shows them: by name, by a pixel, or from what moves and is coloured."""

from __future__ import annotations

from typing import TYPE_CHECKING

from tempo_coach.errors import CoachError
from tempo_coach.observe.film_samples import frame_near
from tempo_coach.observe.markers import Colour, colour_at, named_colour
from tempo_coach.observe.spots import fit_colour, propose

if TYPE_CHECKING:
    from collections.abc import Sequence

    import numpy as np
    from numpy.typing import NDArray

    from tempo_coach.observe.film import Film
    from tempo_coach.observe.film_trace import Wanted
    from tempo_coach.observe.spots import View

#: Markers that are followed where none is named: two clubs.
UNASKED = 2


def settle(
    film: Film, wanted: Sequence[Wanted], views: Sequence[View], backdrop: NDArray[np.uint8]
) -> tuple[list[Colour], list[str]]:
    """Return the markers' colours as this film shows them, and what should be known, in sentences.

    Parameters
    ----------
    film : Film
    wanted : sequence of Wanted
        None takes what moves and is coloured, at most ``UNASKED`` of it.
    views : sequence of View
        Some pictures, spread over the film.
    backdrop : ndarray, shape (3, height, width)

    Raises
    ------
    CoachError
        If a colour is not seen, or nothing coloured moves.
    """
    if not wanted:
        found = propose(views, backdrop)
        if not found:
            raise CoachError(
                "nothing that moves in it is clearly coloured",
                where=film.path,
                hint="name a marker's colour with --marker NAME=COLOUR, or show a pixel of it with --at",
            )
        more = ", ".join(colour.name for colour in found[UNASKED:])
        notes = [f"also coloured and moving: {more} (--marker NAME=COLOUR follows it)"] if more else []
        return found[:UNASKED], notes
    colours = []
    for marker in wanted:
        if marker.at is not None:
            time, x, y = marker.at
            colours.append(colour_at(frame_near(film, time), x, y, name=marker.colour or marker.name))
            continue
        named = named_colour(marker.colour or marker.name)
        fitted = fit_colour(named, views, backdrop)
        if fitted is None:
            others = ", ".join(colour.name for colour in propose(views, backdrop))
            raise CoachError(
                f"nothing {named.name} that moves was seen in the film",
                where=film.path,
                hint=f"what is coloured and moves: {others}" if others else "show a pixel of it: --at TIME X Y",
            )
        colours.append(fitted)
    return colours, []


def tell_apart(colour: Colour) -> str:
    """Return what tells two colours apart: their names; of those shown by pixels their hue, within 20°."""
    if not colour.told:
        return colour.name
    if colour.bright:
        return "bright"
    return f"hue {round(colour.hue_deg / 20) % 18}"  # -180° and 180° are one hue
