"""Errors of films in words: their pictures, colours, markers, claps, parts, marks made by hand."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from tempo_coach.languages import tr
from tempo_coach.report.words.errors.forms import did_you_mean, or_else
from tempo_coach.report.words.errors.resources import HINTS

if TYPE_CHECKING:
    from tempo_coach.report.words.errors.forms import Entry

_CLAP = "give a clap by hand: --clap ON_FILM ON_TAKE"

WORDS: dict[str, Entry] = {
    "film.no_picture_at": ("the film has no picture at {time_s:g} s", "it lasts {duration_s:.1f} s"),
    "film.colour_not_seen": (
        "nothing {colour} that moves was seen in the film",
        lambda others: (
            tr("what is coloured and moves: {names}", names=", ".join(others))
            if others
            else tr("show a pixel of it: --at TIME X Y")
        ),
    ),
    "film.slowed_unaligned": ("a film in slow motion has no sound that could be put on the music", _CLAP),
    "film.silent_unaligned": ("the film has no sound to put on the music", _CLAP),
    "film.beside_take": (
        (
            "the film shows {start_s:.1f} to {end_s:.1f} s of the take clock and the take is from "
            "{take_start_s:.1f} to {take_end_s:.1f} s"
        ),
        "choose another film, or check the clap",
    ),
    "film.pictures_read": (
        lambda found: (
            tr("expected a film, found but one picture in it")
            if found
            else tr("expected a film, found no picture that can be read")
        ),
        "choose another film or stretch of it",
    ),
    "film.too_long": (
        lambda length_s, most_s: (
            tr("the film is of unknown length; up to {most_s:.0f} are read at once", most_s=most_s / 60)
            if math.isinf(length_s)
            else tr(
                "the film is {length_s:.0f} minutes long; up to {most_s:.0f} are read at once",
                length_s=length_s / 60,
                most_s=most_s / 60,
            )
        ),
        "choose the take with --film-from and --film-to, in seconds",
    ),
    "film.too_long_unmarked": (
        lambda most_s: tr("expected a film of up to {most_s:.0f} minutes without a marker", most_s=most_s / 60),
        "choose a stretch: --from and --to",
    ),
    "film.nothing_coloured": (
        "nothing that moves in it is clearly coloured",
        "name its colour (--marker NAME=COLOUR), show a pixel (--at), or follow what repeats (--part NAME)",
    ),
    "colour.unknown": ("expected a colour ({shades}), got {colour}", or_else("or show a pixel of it: --at TIME X Y")),
    "pixel.outside": (
        "expected a pixel of the picture of {columns} × {rows}, got {x_px:g} {y_px:g}",
        "x grows to the right, y downwards, from the upper left corner",
    ),
    "pixel.colourless": (
        "the pixel {x_px:g} {y_px:g} is neither coloured nor bright",
        "choose one in the marker's middle",
    ),
    "pixel.too_pale": (
        "the pixel {x_px:g} {y_px:g} is too pale: {apart:.0f} of 128 from what is behind it, {least:g} are needed",
        "use brighter tape",
    ),
    "clap.slowed": (
        "a film in slow motion has no sound that its picture could be set against",
        "film three claps at the ordinary speed",
    ),
    "clap.silent": ("the film has no sound that its picture could be set against", "film three claps with sound"),
    "clap.few_heard": (
        "expected {least} claps or more in its sound, heard {found}",
        "clap three times, a second apart, some metres away and in full view, without music",
    ),
    "clap.few_seen": (
        "{heard} sounds are heard, and {found} of them seen at one delay",
        "clap three times, a second apart, with arms wide before each, in full view and without music",
    ),
    "film.music_speed": ("expected a speed of 0.3 to 3, got {speed:g}", "0.8 is 80 %"),
    "film.marker_is_no_hand": ("{name} names no hand of the plan ({hands})", "write {member}/{hand}=COLOUR"),
    "film.slowed": ("expected 0.05 to 100 times slower, got {times:g}", "8 is usual"),
    "film.no_picture_in_sound": ("the file has sound and no moving picture", "choose the film itself"),
    "film.backwards": "expected a stretch that ends after it begins, got {start_s:g} to {end_s:g} s",
    "film.ends_before": "the film ends at {duration_s:.1f} s, before {start_s:g} s",
    "film.not_read": ("the picture cannot be read", "copy it again from the phone"),
    "film.no_picture": ("expected a film, found no picture in it", "copy it again from the phone"),
    "film.single_picture": ("expected a film, found a single picture", "choose the film itself"),
    "marker.too_many": "expected at most {most} markers, got {found}",
    "marker.misread": (
        "the name {name!r} would be misread in a table",
        "use a plain word such as left, right, rope or club",
    ),
    "marker.twice": ("two are called {name}", "give each its own name"),
    "marker.not_seen": (
        "the marker {marker} ({colour}) was never seen moving",
        "check its colour, or leave the marker out",
    ),
    "film.few_pictures": "expected a film, found fewer than two pictures",
    "marks.rate": "expected 1 to 2000 pictures a second, got {rate_hz:g}",
    "marks.columns": ("found the columns {columns}", HINTS["marks"]),
    "marks.none": ("nothing is marked in it", HINTS["marks"]),
    "marks.no_number": "expected a {column}, found {found!r}",
    "marks.hand": ("expected a hand ({hands}), found {found!r}", did_you_mean),
    "marks.no_rate": ("nothing says how many pictures a second there are", "give --fps or --film"),
    "marks.beyond_film": ("the film has {pictures} pictures, and {marked:g} is marked", "count from 0"),
    "part.too_many": "expected 1 to {most} parts of the picture, got {found}",
    "part.few_pictures": "expected a film, found too few pictures to compare",
    "part.still": (
        "nothing moves in the part {part}",
        "choose the part in which she moves, or film her nearer",
    ),
    "part.no_cycles": (
        lambda part: (
            tr("nothing that repeats was seen in the part {part}", part=part)
            if part
            else tr("nothing that repeats was seen")
        ),
        "show the same movement throughout and larger: --film-from, --film-to, --part NAME=LEFT,TOP,WIDTH,HEIGHT",
    ),
    "part.one_place": ("two are shown at one place, {other} and this one", "show a place in the middle of each"),
    "part.on_nobody": (
        "expected a place on a gymnast, nothing moves at {x_px:g},{y_px:g}",
        "show a place in the middle of her, as she stands in the first picture",
    ),
    "part.not_known_who": (
        "gymnasts left their places or were hidden at {from_s:.1f} s, and from there on it is not known who is who",
        "cut the film so that all keep their places for some cycles, and show a place on each in its first picture",
    ),
    "crossing.none": (
        "expected an answer for each time that gymnasts change places, of which there are {crossings}, got {found}",
        "leave the last one out",
    ),
    "crossing.nobody": "expected a member ({members}), found {found}",
    "crossing.number": ("expected a number from 1 to {most}, found {found}", "--crossing-page PAGE.html shows them"),
    "crossing.twice": ("two are said to be number {number}", "give each a number of her own"),
    "part.outside": (
        "expected a part within the picture of {columns} × {rows}, got {left:g},{top:g} and {width:g} × {height:g}",
        "write NAME=LEFT,TOP,WIDTH,HEIGHT in pixels, from the upper left corner",
    ),
    "part.camera_swings": (
        "the camera swings by {share:.0%} of the picture's width, and {most:.0%} are the most",
        "film from one place with her in the middle, or follow a marker",
    ),
    "part.too_small": ("the part {part} is too small", "take all that the arm passes"),
}
