"""Errors of what was observed: takes, tables, traces, recordings, films, in words."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from tempo_coach.languages import tr
from tempo_coach.report.words.amounts import join_words
from tempo_coach.report.words.errors.forms import did_you_mean, first_names, join_names, or_else
from tempo_coach.report.words.errors.resources import HINTS, WANTED, hint_for

if TYPE_CHECKING:
    from tempo_coach.report.words.errors.forms import Entry

_CLAP = "give a clap by hand: --clap ON_FILM ON_TAKE"
_OTHER_UNIT = {"m": "position=mm", "m/s²": "acceleration=mg", "rad/s": "rotation=deg/s"}


def _ask_unit(ranges: dict[str, tuple[float, float]], rate_hz: float) -> str:
    told = "; ".join(
        tr("{name} from {low:.4g} to {high:.4g}", name=name, low=low, high=high) for name, (low, high) in ranges.items()
    )
    return tr(
        "nothing says what {join_names} are ({told}; {rate_hz:.4g} readings a second)",
        join_names=join_names(list(ranges)),
        told=told,
        rate_hz=rate_hz,
    )


WORDS: dict[str, Entry] = {
    "table.no_text": (
        lambda what: tr("expected {what}, found a picture, sound or other file that is no text", what=tr(WANTED[what])),
        hint_for,
    ),
    "table.empty": ("the file is empty", hint_for),
    "table.too_long": ("expected up to {most:,} rows, found {found:,}", hint_for),
    "table.unreadable": ("this is no table ({reason})", hint_for),
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
    "part.outside": (
        "expected a part within the picture of {columns} × {rows}, got {left:g},{top:g} and {width:g} × {height:g}",
        "write NAME=LEFT,TOP,WIDTH,HEIGHT in pixels, from the upper left corner",
    ),
    "part.camera_swings": (
        "the camera swings by {share:.0%} of the picture's width, and {most:.0%} are the most",
        "film from one place with her in the middle, or follow a marker",
    ),
    "part.too_small": ("the part {part} is too small", "take all that the arm passes"),
    "member.hand": ("expected a hand ({hands}), found {found!r}", or_else("give the table a column hand")),
    "member.no_time": ("expected a column time, found {columns}", HINTS["members"]),
    "member.no_rows": ("the table has no rows", HINTS["members"]),
    "member.unnamed": ("expected a member, found {found!r}", HINTS["members"]),
    "member.twice": ("expected each member once, found {member!r} again", "this one is left out: say NAME=FILE"),
    "member.no_file": ("expected NAME=FILE, found no file behind {member}=", "say which, or leave it out"),
    "member.no_recording": ("no member is given by a recording or film", "leave it out"),
    "member.no_film": ("no member is given by a film", "leave it out"),
    "member.no_readings": ("no member is given by a table of readings", "leave it out"),
    "member.unknown": "expected a member ({members}), found {found}",
    "group.nothing_asked": (
        "nothing says what was asked for",
        "give --tempo BPM, --music FILE, --plan PLAN.json or --drill DRILL",
    ),
    "group.recording_without_music": (
        "a recording is put on the music that is heard in it, and no music is named",
        "give --music FILE, --drill DRILL or --plan PLAN.json; or --first-clap where all recorded one clap before",
    ),
    "group.beyond_take": (
        lambda member, end_s: tr(
            "the last onset of {member} lies at {end_s:.10g} s, where no take goes on",
            member=member or tr("the table"),
            end_s=end_s,
        ),
        "say how much later the take clock shows the same: --clock MEMBER=SECONDS",
    ),
    "group.empty_folder": "expected a folder with a file of each member, found none",
    "alignment.too_short": (
        "expected at least {least_s:g} s of sound, got {sound_s:.1f} s of sound and {music_s:.1f} s of music",
        "choose a longer stretch",
    ),
    "alignment.not_found": (
        "the music is not found in the sound",
        "check that it is the right music and speed, and that it can be heard; or give a clap by hand",
    ),
    "alignment.two_places": (
        "the sound fits the music at two places {apart_s:.1f} s apart",
        "take a longer part, or give a clap by hand",
    ),
    "sample.too_short": "expected {least_s:g} s or more of {recording}, got {start_s:g} to {end_s:g} "
    "s of {duration_s:.1f} s",
    "sample.not_clear": (
        "the sample does not stand out of the quiet",
        "choose stretches before the music, the sound clear and near",
    ),
    "recording.beside_take": (
        (
            "the recording holds {start_s:.1f} to {end_s:.1f} s of the take clock and the take is from "
            "{take_start_s:.1f} to {take_end_s:.1f} s"
        ),
        "choose another recording, or check the clap",
    ),
    "recording.nothing_heard": (
        "no {kind} is heard in the take",
        "check --kind, or record nearer to her; --quiet and --sample say what it sounds like",
    ),
    "recording.no_first_clap": (
        "expected a clap that all heard and then {kind}, found no such thing",
        "clap once, loud, before they begin, with every recorder running",
    ),
    "recording.other_hand": "expected a hand of the plan ({hands}), got {found}",
    "recording.nothing_asked": "the plan asks nothing of {hands}",
    "onsets.no_time": ("expected a column time, found {columns}", HINTS["onsets"]),
    "onsets.no_hand": ("expected a column hand, found {columns}", HINTS["onsets"]),
    "onsets.hand": ("expected a hand ({hands}), found {found!r}", did_you_mean),
    "table.no_time_in_cell": (
        "expected a time in seconds, found {found!r}",
        "write each time in seconds, such as 12.34",
    ),
    "onsets.repeated": (
        "expected onsets one after the other, found {time_s:g} s for {hand} again and again",
        "see whether the column time is the one that goes on",
    ),
    "take.none": ("this is no take", HINTS["take"]),
    "take.version": "expected a take of version {known}, found version {version!r:.40}",
    "take.observer": "expected a way of observing ({known}), found {found!r:.40}",
    "take.exists": ("the file exists and is not overwritten", "give another name"),
    "take.not_written_to": "the take cannot be written to ({reason})",
    "take.no_plan": (
        "nothing of the take can be read: it was cut off before its plan was whole",
        "it is called {aside} now, and may be deleted",
    ),
    "cycles.few": (
        "expected at least two cycles of about {period_s:.3g} s, found {found}",
        "choose a longer stretch, or the columns that show the movement best",
    ),
    "readings.too_many": (
        "expected up to {most:,} rows, found {found:,}",
        "cut it to the passage, or keep every second reading",
    ),
    "readings.too_wide": ("expected up to {most:,} columns, found {found:,}", "leave out those that are not needed"),
    "readings.empty": ("the file is empty", HINTS["readings"]),
    "readings.few_rows": ("expected at least two rows of readings, got {found}", HINTS["readings"]),
    "readings.none": ("found no rows of numbers in it", HINTS["readings"]),
    "readings.no_header": ("expected a header with a name for every column, found none", HINTS["readings"]),
    "flights.no_height": (
        "expected a column for the height (y or z), got {axes}",
        "name it with --columns, the height last",
    ),
    "long_table.no_readings": (
        lambda columns: tr(
            "found no readings beside the column {names}", names=join_words(columns, "{first} and {second}")
        ),
        "expected positions or readings in it",
    ),
    "long_table.too_many": (
        lambda most, columns, found: tr(
            "expected up to {most} sensors or points in the column {names}, found {found}",
            most=most,
            names=join_words(columns, "{first} and {second}"),
            found=found,
        ),
        "leave out those that are not needed",
    ),
    "trace.few_readings": (
        "expected at least four complete readings, got {found}",
        "record for longer, or check the columns",
    ),
    "trace.too_long": (
        (
            "the readings go on for {minutes:.0f} minutes at {rate_hz:.4g} a second; up to "
            "{most_minutes:.0f} are looked through at once"
        ),
        "choose the take with --from and --to, in seconds",
    ),
    "rhythm.too_slow_for": (
        "{rate_hz:.3g} readings a second are too few for circles of {circle_s:.3g} s",
        "a circle needs {readings:.0f} readings: these show circles of {shortest_s:.3g} s or longer; 50 Hz is good",
    ),
    "rhythm.too_few_readings": (
        "{rate_hz:.3g} readings a second for {duration_s:.3g} s are too few for circles",
        "a circle needs {readings:.0f} readings, and a cycle has to be seen twice; 50 Hz is good",
    ),
    "rhythm.period": (
        "a cycle of {period_s:g} s: expected {least_s:.2g} to {most_s:.3g} s in {duration_s:.3g} s of readings",
        "give about how many seconds one cycle takes, or leave it to be found",
    ),
    "rhythm.none": (
        "found nothing that repeats: the best likeness of a cycle to the next is {similarity:.2f} of 1",
        "choose the columns that show the movement, or a stretch in which it goes on",
    ),
    "columns.mixed": (
        lambda quantities: tr(
            "expected columns of one quantity, got {names}",
            names=join_words(map(tr, quantities), "{first} and {second}"),
        ),
        "name the columns of one sensor or point",
    ),
    "columns.none_changes": (
        lambda quantity, point: (
            tr(
                "found no column of {quantity} that changes for {point}",
                quantity=quantity or "position, acceleration or rotation",
                point=point,
            )
            if point
            else tr(
                "found no column of {quantity} that changes", quantity=quantity or "position, acceleration or rotation"
            )
        ),
        lambda known: tr(
            "the columns: {first_names}. Name those to read with --columns", first_names=first_names(known)
        ),
    ),
    "column.unknown": (
        lambda known, column: tr(
            "expected one of the columns {first_names}, got {column}", first_names=first_names(known), column=column
        ),
        did_you_mean,
    ),
    "point.unknown": (
        lambda known, point: tr(
            "expected one of the points {first_names}, got {point}",
            first_names=first_names(known) or tr("of a table with a single one"),
            point=point,
        ),
        or_else("name one of these points, or leave the option out"),
    ),
    "columns.constant": (
        "the column {column} never changes",
        "name columns that move, or check that the sensor was switched on",
    ),
    "times.never_forward": (
        "expected times that go forward, got stamps that never do",
        "name the time column with --time-column, or give --rate HZ",
    ),
    "times.no_unit": (
        "a usual step of {step:g} is that of no sensor in s, ms, µs or ns",
        "give --rate HZ if the column counts frames",
    ),
    "times.jump": (
        "the times jump by more than an hour {jumps} times",
        "name the time column with --time-column, or give --rate HZ",
    ),
    "times.backwards": ("the times run backwards {steps} times", "name the time column with --time-column"),
    "times.repeated": (
        "the times stand still: {share_pct:.0f} % of them repeat the one before",
        "name the time column with --time-column, or give --rate HZ",
    ),
    "times.few": ("expected at least two times, got {found}", HINTS["readings"]),
    "times.constant": ("expected times that differ", "give --rate HZ"),
    "readings.rate": ("expected a rate above 0, got {rate_hz:g}", "100 is usual"),
    "times.two_columns": (
        lambda columns: tr("two columns could be the time: {names}", names=join_words(columns, "{first} and {second}")),
        "name one with --time-column",
    ),
    "times.no_column": (
        lambda known, constant: (
            tr("the times stand still: {constant} is the same in all rows", constant=constant[0])
            if constant
            else tr("found no time column among {first_names}", first_names=first_names(known))
        ),
        "name it with --time-column, or give --rate HZ for readings at even steps",
    ),
    "readings.beyond_gymnast": (
        "{column} reaches {largest:.4g} {unit}, which no gymnast does",
        lambda unit: tr("give the right unit, for example --unit {unit}", unit=_OTHER_UNIT[unit]),
    ),
    "times.no_stamps": (
        "expected times in the column {name}, got {found!r}",
        "write seconds, or date-times like 2024-05-01T17:30:00.125",
    ),
    "readings.impossible": ("{column} reaches {largest:.4g}, which nothing reads", "see what stands in that column"),
    "readings.nothing_changes": (
        "nothing in it changes: every column is constant or empty",
        "check that the sensor was on, and that the right file was chosen",
    ),
    "trace.few_in_stretch": (
        "expected readings between {start_s:g} and {end_s:g} s, found {found}",
        "the trace runs from {first_s:.3f} to {last_s:.3f} s",
    ),
    "trace.no_dates": (
        "the stamps of the trace tell no date and time",
        "give a clap that both saw instead: --clap ON_TRACE ON_TAKE",
    ),
    "trace.run_through_unplaced": (
        "a trace of a run-through has to be placed on its clock",
        "give --clap with an instant that both saw, or --started",
    ),
    "trace.few_to_fit": (
        "expected three moments and three circles to fit, got {moments} and {circles}",
        "give a clap that both saw instead",
    ),
    "flights.of_a_dial": (
        "found a dial, which a film without markers gives: it turns once a cycle and shows no place",
        "follow a marker for flights",
    ),
    "trace.no_flight": (
        "found no flight in it, and the drill asks for a release and a catch",
        "follow the apparatus itself, and name its height with --columns",
    ),
    "trace.more_bodies_than_hands": (
        "two tracked bodies are named and the plan has {hands} hand",
        "leave --against out",
    ),
    "unit.of_what": (
        "expected one of {known}, got {found}",
        lambda nearest, unit: (
            tr("did you mean {nearest}={unit}?", nearest=nearest, unit=unit[:40])
            if nearest
            else "for example position=cm"
        ),
    ),
    "unit.unknown": "expected a unit of {quantity} ({known}), got {found}",
    "unit.untold": (
        _ask_unit,
        (
            "say it with --unit position=m, --unit acceleration=g (or m/s2), --unit rotation=deg/s (or rad/s), or "
            "write the unit into the header, such as x (m)"
        ),
    ),
    "unit.unused": ("found no columns that could be {quantity}", "leave out what the table has not"),
}
