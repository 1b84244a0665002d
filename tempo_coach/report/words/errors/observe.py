"""Errors of what was observed in words: takes, onsets, recordings, members; films and traces have their own."""

from __future__ import annotations

from typing import TYPE_CHECKING

from tempo_coach.languages import tr
from tempo_coach.report.words.errors.forms import did_you_mean, or_else
from tempo_coach.report.words.errors.resources import HINTS, WANTED, hint_for

if TYPE_CHECKING:
    from tempo_coach.report.words.errors.forms import Entry

_CLAP = "give a clap by hand: --clap ON_FILM ON_TAKE"

WORDS: dict[str, Entry] = {
    "table.no_text": (
        lambda what: tr("expected {what}, found a picture, sound or other file that is no text", what=tr(WANTED[what])),
        hint_for,
    ),
    "table.empty": ("the file is empty", hint_for),
    "table.too_long": ("expected up to {most:,} rows, found {found:,}", hint_for),
    "table.unreadable": ("this is no table ({reason})", hint_for),
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
}
