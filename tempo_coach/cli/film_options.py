"""Options that say what is to be followed in a film, and how they are read: for ``film`` and ``score``."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import argparse

    from tempo_coach.observe.film.film_trace import FilmTrace
    from tempo_coach.observe.film.frames import Film
    from tempo_coach.observe.film.marker_trace import MarkerSpec
    from tempo_coach.observe.film.motion import Region

CARE = (
    "A film is read where it lies: nothing of it is copied, sent or kept unless it is asked for. "
    "Film minors only as their parents and club allow, and delete what is no longer needed."
)


def add_following(parser: argparse._ActionsContainer) -> None:
    """Add the options that say what is to be followed, and in which part of the film."""
    parser.add_argument(
        "--marker",
        action="append",
        default=[],
        metavar="NAME=COLOUR",
        help="a marker: left=red, or a colour alone; without any, what is coloured and moves is followed",
    )
    parser.add_argument(
        "--at",
        action="append",
        default=[],
        nargs=3,
        type=float,
        metavar=("TIME", "X", "Y"),
        help="where a marker without colour is at a second of the film, in pixels from the left and from the top; one "
        "for each, in their order",
    )
    parser.add_argument(
        "--part",
        action="append",
        default=[],
        metavar="NAME=LEFT,TOP,WIDTH,HEIGHT",
        help="without a marker: follow what moves in this part of the picture, in pixels (a name alone: anywhere); "
        "less sure",
    )
    parser.add_argument(
        "--film-from", type=float, metavar="S", help="leave out what comes before this second of the film"
    )
    parser.add_argument("--film-to", type=float, metavar="S", help="leave out what comes after this second of the film")
    parser.add_argument(
        "--without",
        action="append",
        default=[],
        metavar="S-S",
        help="leave a doubtful stretch of the film out, in seconds: 12.0-13.5",
    )
    parser.add_argument(
        "--slowed",
        type=float,
        metavar="N",
        help="how many times slower than life the film is (default: as it says itself)",
    )


def follow(args: argparse.Namespace, path: str) -> FilmTrace:
    """Follow a film's markers as the options of :func:`add_following` say.

    Raises
    ------
    CoachError
        If the options do not go together, or nothing can be followed.
    """
    from tempo_coach.cli.output import Progress, warn
    from tempo_coach.coach import read_stretch
    from tempo_coach.errors import CoachError
    from tempo_coach.observe.film.marker_trace import follow_film
    from tempo_coach.observe.film.motion import follow_motion

    wanted = read_wanted(args.marker, args.at)
    parts = [read_part(text) for text in args.part]
    without = [read_stretch(text, where="--without") for text in args.without]
    if wanted and parts:
        raise CoachError("expected markers or parts of the picture, got both", where="--part")
    film = look(args, path)
    if parts:
        with Progress("following the movement") as progress:
            return follow_motion(film, parts, without=without, progress=progress, warn=warn)
    with Progress("following the film") as progress:
        return follow_film(film, wanted, without=without, progress=progress, warn=warn)


def look(args: argparse.Namespace, path: str) -> Film:
    """Return what the film is, within the window of the options."""
    from tempo_coach.observe.film.frames import look_at_film

    return look_at_film(path, start=args.film_from, end=args.film_to, slowed=args.slowed)


def read_wanted(markers: list[str], at: list[list[float]]) -> list[MarkerSpec]:
    """Return the markers that are named; each without a colour takes the next pixel.

    Raises
    ------
    CoachError
        If a marker is not written as one, or has neither colour nor pixel.
    """
    from tempo_coach.errors import CoachError
    from tempo_coach.observe.film.colours import named_colour
    from tempo_coach.observe.film.marker_trace import MarkerSpec

    pixels = [(time, x, y) for time, x, y in at]
    out = []
    for text in markers:
        name, mark, colour = (part.strip() for part in text.partition("="))
        if mark:
            out.append(MarkerSpec(name, named_colour(colour).name))
        elif pixels:
            out.append(MarkerSpec(name, None, pixels.pop(0)))
        else:
            out.append(MarkerSpec(name, named_colour(name).name))
    more = ("first", "second", "third", "fourth", "fifth", "sixth")
    for number, pixel in enumerate(pixels):
        if number >= len(more):
            raise CoachError(f"expected at most {len(more)} markers, got {len(out) + len(pixels)}", where="--at")
        out.append(MarkerSpec(more[number], None, pixel))
    return out


def read_part(text: str) -> Region:
    """Return a part of the picture, such as ``left=0,0,640,720``; a name alone is the whole picture.

    Raises
    ------
    CoachError
        If it is not written as one.
    """
    from tempo_coach.errors import CoachError
    from tempo_coach.observe.film.motion import Region

    name, mark, box = (word.strip() for word in text.partition("="))
    if not mark:
        return Region(name)
    try:
        left, top, width, height = (float(number) for number in box.split(","))
    except ValueError:
        raise CoachError(f"expected NAME=LEFT,TOP,WIDTH,HEIGHT, got {text}", where="--part") from None
    return Region(name, left, top, (width, height))
