"""Errors of the history of takes, and the people in it, in words."""

from __future__ import annotations

from typing import TYPE_CHECKING

from tempo_coach.report.words.errors.forms import or_else

if TYPE_CHECKING:
    from tempo_coach.report.words.errors.forms import Entry

_RESTORE = "bring a backup back: tempo-coach history --restore BACKUP"

WORDS: dict[str, Entry] = {
    "history.not_one": ("this is no history of tempo_coach", "name another file with --file"),
    "history.newer": (
        "the history is of version {version}, and this program knows up to {known}",
        "install the newer version of tempo_coach that wrote it",
    ),
    "history.damaged": ("the history is damaged", _RESTORE),
    "history.cut_short": ("the history is damaged: its end is missing", _RESTORE),
    "history.open_elsewhere": (
        "another program has the history open, so nothing was removed",
        "close it and try again",
    ),
    "history.file_stays": ("the file cannot be removed ({reason})", "remove it by hand"),
    "history.merged_with_itself": ("expected another history, found this one", "nothing was changed"),
    "merge.nobody": ("nobody is called {name!r} in the other history", or_else("nothing was changed")),
    "history.loose_row": ("the history is damaged: a row belongs to nothing", _RESTORE),
    "history.empty": "this is no history of tempo_coach: nothing is in it",
    "name.missing": "expected a name, found nothing",
    "name.too_long": (
        "expected a name of at most {most} letters, found {letters}",
        "use a short one; it is only for you",
    ),
    "name.unprintable": "expected a name that can be printed, found {name!r}",
    "begun.unreadable": "expected date and time such as 2031-05-04T18:15, found {begun!r}",
    "day.unreadable": "expected a day such as 2031-05-04, a number of days ago, or today, found {day!r}",
    "person.several": ("several names begin with {beginning!r}: {names}", "type more of it"),
    "person.minutes": "expected {lengths} minutes, got {minutes}",
    "person.keys": ("expected a different key for each hand, such as jf, found {keys!r}", "put them one after another"),
    "person.name_taken": (
        "there is somebody of the name {athlete} already",
        "give this one a further letter; a take goes over by tempo-coach correct TAKE --to NAME",
    ),
    "person.apparatus": ("expected {known}, commas between, found {found!r}", "leave out what is none of them"),
    "person.no_list": "expected a list of words in quotes",
    "person.day": "expected a day such as 2031-03-14",
    "folder.not_made": "the folder cannot be made ({reason})",
    "history.copy_not_written": "the copy cannot be written ({reason})",
    "history.folder": ("expected a history, found a folder", "name its file with --file"),
    "history.none_yet": ("there is no history yet", "practise once, or score a take with --keep NAME"),
    "history.damaged_so": ("the history is damaged: {reason}", _RESTORE),
    "history.not_replaced": "the history cannot be replaced ({reason})",
    "take.hers_already": "take {number} is {name}'s already",
    "take.had_as_another": ("{name} has this take already, as take {other}", "remove take {number} instead"),
    "reason.length": "expected a reason of 1 to {most} letters, found {letters}",
    "note.length": "expected a note of 1 to {most} letters, found {letters}",
    "note.none": ("take {number} has no note", 'tempo-coach history --note {number} "TEXT" adds one'),
    "correction.none": "there is no correction to undo",
    "take.unknown": ("there is no take {number}", "tempo-coach history lists them"),
    "take.damaged": ("take {number} is damaged", _RESTORE),
    "athlete.unknown": (
        "there is no athlete {name!r} in the history",
        or_else("tempo-coach history --athletes lists them"),
    ),
    "history.busy": ("another program is writing to the history and does not finish", "try again when it is done"),
    "history.read_only": ("the history is read-only", "make the file and its folder writable, or name another one"),
    "history.disk_full": ("the disk is full", "make room and try again"),
    "history.disk_gone": ("the disk cannot be read or written", "see whether the disk is full or was taken away"),
    "merge.no_history": (
        "expected a history of tempo_coach, found a file that is none or is damaged; nothing was merged",
        "name the other machine's history.sqlite or what share --hand-over wrote, or copy it again",
    ),
    "history.no_database": ("this is no history of tempo_coach, or it is damaged", _RESTORE),
    "history.not_opened": ("the history cannot be opened", "see whether its folder is there and may be written to"),
    "history.forbidden": ("the history may not be opened", "see who owns the file"),
    "performance.nobody": (
        "expected members that are told apart, found one recording of all: nobody can be kept",
        "give of each member a take, a table or a recording",
    ),
    "performance.unknown": (
        "no performance of a group {name!r} is in the history",
        or_else("tempo-coach group ... --keep NAME keeps one"),
    ),
    "session.none": ("expected a session, found something else", "remove the file: a new one is planned"),
}
