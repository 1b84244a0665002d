"""Errors of command lines, in words."""

from __future__ import annotations

from typing import TYPE_CHECKING

from tempo_coach.languages import tr
from tempo_coach.report.words.errors.forms import did_you_mean

if TYPE_CHECKING:
    from tempo_coach.report.words.errors.forms import Entry


def _say_notice(notice: str, arguments: tuple[object, ...]) -> str:
    from tempo_coach.report.words.live import say_notice

    return say_notice(notice, arguments)


WORDS: dict[str, Entry] = {
    "option.out_of_range": "expected {low} to {high}, got {found}",
    "calibration.nothing_measured": ("nothing could be measured", "tempo-coach doctor says what works on this machine"),
    "calibration.no_sound": _say_notice,
    "check.no_routine": ("expected a routine's file", "or --list for the tables of rules"),
    "correct.no_take": "expected the number of a take, or --undo alone",
    "counts.hints_for_new_music": (
        "the routine exists, and hints would be for new music",
        "open it without them, or name another one with --routine",
    ),
    "cue.nothing_to_write": ("expected something to write", "give --out FILE, --plan PLAN.json or --json"),
    "demo.folder_not_made": "the folder cannot be made ({reason})",
    "drills.list_of_all": ("a list is of all drills", "to see one: tempo-coach drills show NAME"),
    "drills.new_lacks": (
        lambda named, missing: tr("expected {names} too", names=", ".join([*([] if named else ["a name"]), *missing])),
        (
            "for example: tempo-coach drills new my_eight --apparatus rope --counts 4 "
            '--circles "low 1, rise, high 2, fall"'
        ),
    ),
    "drills.no_name": ("expected the name of a drill", "tempo-coach drills lists them"),
    "film.speed_of_music": ("a speed is that of the music", "give --music FILE; a plan has its own"),
    "film.markers_and_parts": "expected markers or parts of the picture, got both",
    "film.too_many_markers": "expected at most {most} markers, got {found}",
    "film.part_unreadable": "expected NAME=LEFT,TOP,WIDTH,HEIGHT, got {text}",
    "goal.day_and_tempo": "expected --by DAY and --tempo BPM beside the drill",
    "goal.no_day": "expected a day such as 2031-03-14, found {text!r}",
    "group.hall": "expected 0 to {most_m:g} metres, got {hall_m:g}",
    "group.no_number": ("expected MEMBER=NUMBER, got {found!r}", "for example Ada=2"),
    "group.no_exchange": (
        "expected MEMBER:MEMBER, each throwing to one other, got {found!r}",
        "for example --exchange Ada:Bea --exchange Bea:Ada",
    ),
    "history.last": "expected a number from 1 on, got {last}",
    "history.nothing_like_that": ("no take is like that", "tempo-coach history lists what there is"),
    "history.several_athletes": ("expected takes of one athlete, found {some}", "give --athlete"),
    "history.several_drills": ("expected takes of one drill, found {some}", "give --drill"),
    "history.no_take_number": "expected the number of a take, got {found!r}",
    "history.dask_alone": "expected --backend dask together with --scheduler ADDRESS",
    "history.jobs": "expected 1 to 1024, or -1 for all cores, got {jobs}",
    "many.twice": ("this file is named twice", "name each once"),
    "many.not_there": (
        "this folder is not on the machine that was to read the files",
        "let all of them have it at the same place",
    ),
    "learn.apparatus": ("expected one of {known}, got {apparatus}", did_you_mean),
    "learn.not_above_zero": "expected a number above 0, got {value:g}",
    "listen.part_backwards": "expected a part that ends after it begins, got {found}",
    "option.decided_by_routine": ("the routine decides this", "leave the option out, or name a drill"),
    "countfilm.name_ends": ("expected a name that ends in .mp4, got {out!r}", "phones and halls play that"),
    "countfilm.cards_end": ("expected a name that ends in {endings}, got {out!r}", "a browser prints these"),
    "countfilm.nothing_asked": ("there is nothing to write", "name a film with --out, or cards with --cards"),
    "countfilm.clicks_or_voice": ("counts are clicked or spoken, not both", "leave --clicks or --voice out"),
    "cut.loudness": ("expected a loudness of -70 to -5 LUFS, or off, got {found!r}", "-16 is what a hall is played at"),
    "option.unused": ("there is no use for this {why}", "leave it out"),
    "output.is_read": ("the command reads this file and does not write over it: {path}", "use another name"),
    "output.named_twice": ("the file is the one of {other} already: {path}", "use another name"),
    "practise.out_of_range": "expected {low} to {high}, got {value:g}",
    "practise.keys": "expected a different key for each of {names}, got {keys!r}",
    "report.no_such_file": (
        "expected the number of a take or a take's file, and there is no such file",
        lambda athlete: tr("all takes of an athlete: report --athlete {athlete}", athlete=athlete or "NAME"),
    ),
    "report.nothing_to_write": ("expected a file to write", "give --out FILE.html or --pdf FILE.pdf"),
    "report.nothing_named": ("expected one thing to report on", "a take, --athlete NAME, or --group TAKE …"),
    "report.several_takes": ("expected one take, found several", "add --group if they are a group"),
    "report.no_take_of_hers": "there is no such take of {athlete}",
    "score.no_onsets": ("expected a table of onsets", "name the CSV file, or give --sound, --film or --take"),
    "score.nothing_to_hear": ("nothing is there to be listened to", "give --sound FILE, or --film FILE with --kind"),
    "score.table_and_film": ("expected a table or a film, got both", "leave one of them out"),
    "score.recording_alone": ("expected a recording alone", "leave the table or the film out"),
    "score.marks_and_sound": ("expected marks or a sound, got both", "leave one of them out"),
    "score.marks_unplaced": ("nothing says where on the music the marks lie", "give --film FILE, or --clap"),
    "score.started": ("expected a date and time, got {text}", "write it like 2031-05-04T18:15:02.250"),
    "share.no_other": "expected NAME=OTHER, got {found!r}",
    "share.no_out": "expected --out FILE behind it",
    "sheet.name_ends": "expected a name that ends in {endings}, got {out!r}",
    "toss.on": "expected a count from 1 to 8, got {on}",
    "toss.music_and_routine": "expected --music or --routine, got both",
    "toss.counts_alone": "expected --counts, and no --flight, with {option}",
    "toss.beyond_music": "the music has no {counts:g} counts from eight {from_eight}, count {on}",
    "toss.too_fast_in_air": ("in air a {name} would have to be let go faster than anybody throws", "plan fewer counts"),
    "toss.table_without_tempo": "expected --tempo with --table",
    "toss.no_flight_in_trace": (
        "found no flight in it: nothing falls freely for 0.3 s",
        "follow the apparatus itself, and check which column is the height and in which unit",
    ),
    "trace.nothing_thrown": ("nothing is thrown and caught in this plan", "leave --plan out"),
    "trace.unit_unreadable": ("expected WHAT=UNIT, got {given}", "for example position=cm"),
}
