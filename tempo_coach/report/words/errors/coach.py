"""Errors of what a verb is asked for, in words."""

from __future__ import annotations

from typing import TYPE_CHECKING

from tempo_coach.languages import tr
from tempo_coach.report.words.errors.forms import either

if TYPE_CHECKING:
    from tempo_coach.report.words.errors.forms import Entry


def _programs(version: str | None, python: str) -> str:
    return f"tempo_coach {version} on Python {python}" if version else f"Python {python} without tempo_coach"


WORDS: dict[str, Entry] = {
    "cut.nothing_kept": (
        "expected what of the music is to be kept",
        "name it with --keep, eight by eight: --keep 1-8 17-24",
    ),
    "cut.whole_changed": (
        "the whole music is not the file that {routine} was cut from: its content is another one",
        "put that file back, or name the other one to cut it: tempo-coach cut FILE --keep",
    ),
    "answers.unreadable": (
        "expected what was said of the columns of tables, found a file that is not written so",
        "mend it, or move it away: then you are asked again",
    ),
    "group.plan_and_drill": ("expected a plan or a drill, found both", "a plan has its drill"),
    "group.live_without_drill": ("expected a drill that the group does", "name it with --drill"),
    "group.live_members": (
        "expected {low} to {high} different names of members, found {found}",
        "tempo-coach group --live Ada Bea Cyl --drill DRILL",
    ),
    "group.clap_and_music": ("expected one clap or music to set the clocks, found both", "leave one of them out"),
    "group.no_place": (
        "expected a place in the first picture, found {found!r}",
        "write NAME=FILM@X,Y in pixels",
    ),
    "group.no_answer": (
        "expected NAME=NUMBER of each, with commas between, found {found!r}",
        "for example Ada=2,Bea=1",
    ),
    "group.place_of_whom": ("nothing says who is there", "write NAME={source}"),
    "group.not_in_film": (
        "the others are shown in the film {film}, and this one is not",
        "show her in it, NAME={film}@X,Y, or give each member a file of her own",
    ),
    "group.no_take_of_athlete": (
        "there is no take of {athlete}",
        "tempo-coach history --athletes lists who there is",
    ),
    "goal.day_over": ("expected a day to come, got {day}", "nothing was changed"),
    "goal.none": "{athlete} has no goal for {drill}",
    "report.no_take_counts": lambda athlete: (
        tr("{athlete} has no take that counts", athlete=athlete or tr("nobody"))
        if athlete
        else tr("{athlete} has a take that counts", athlete=athlete or tr("nobody"))
    ),
    "report.nobody_yet": ("nobody has a take yet", "practise once, and she is in the table"),
    "today.minutes": (
        lambda known, minutes: tr(
            "a session has {either} minutes, got {minutes}", either=either(known), minutes=minutes
        ),
        "with less time practise one drill: tempo-coach practise",
    ),
    "today.people": "expected 1 to {most} people on one list, got {found}",
    "today.named_twice": "{athlete} is named twice",
    "music.laid_evenly": (
        "{problem}",
        "counts are laid evenly at {tempo_bpm:g} a minute, to be put right by hand",
    ),
    "take.undated": ("the take does not say when it began", "give --begun 2031-05-04T18:15"),
    "dask.missing": ("Dask is not installed here", "pip install 'tempo_coach[cluster]', or leave the option out"),
    "dask.no_scheduler": "no Dask scheduler answers there ({reason})",
    "dask.no_worker": ("that scheduler has no worker", "start one on each machine: dask worker ADDRESS"),
    "dask.versions": (
        lambda here, there: tr(
            "this worker has {programs}, here is {programs_2}", programs=_programs(*there), programs_2=_programs(*here)
        ),
        "install the same on every machine",
    ),
    "gap.none": ("there is no gap behind this count: the next one follows in {gap_s:.2f} s", "a adds a count"),
    "gap.sounds_on": (
        "the music sounds on behind this count, and nothing is struck that counts could lie on",
        "p makes a pause of it, a adds a count",
    ),
    "stretch.too_short": ("expected a stretch of two counts or more", "mark its other end"),
    "stretch.music_ends": "the music ends there",
    "music.few_eights": "{duration_s:.0f} s of music have {most} eights at the most, and eight {eight} is asked for",
    "music.changed": (
        "the music has changed since the plan was made",
        "make the plan again, or bring the old file back",
    ),
    "sample.one_alone": ("expected a quiet and a sample, got one of them", "give both"),
    "film.sound_slowed": "a film in slow motion has no sound of its own speed",
    "stretch.unreadable": "expected a stretch such as 12.0-13.5, got {text}",
    "sound.rate_asked": "expected a rate of {least_hz} to {most_hz} Hz, got {rate_hz}",
    "form.out_of_range": "expected {low:g} to {high:g}, got {found}",
    "form.said_by_routine": ("the routine says it", "make this line as usual again"),
    "take.name_taken": ("the file exists and is not overwritten", "name another one"),
    "routine.own_tempo": ("the routine says how its music is counted", "leave the tempo out"),
    "phones.unreadable": (
        "expected [[phone]] tables with name, behind_ms and error_ms",
        "mend the file, or take it away and measure the phones again with film --clap-seen",
    ),
}
