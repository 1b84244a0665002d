"""Errors of files, whatever they hold, in words."""

from __future__ import annotations

from typing import TYPE_CHECKING

from tempo_coach.languages import tr

if TYPE_CHECKING:
    from tempo_coach.report.words.errors.forms import Entry

#: What was wanted of a file that is read.
WANTED = {
    "beats": "a file of beats",
    "calibration": "a calibration",
    "drill": "a drill",
    "file": "a file",
    "film": "a film or its sound (mp4, mov, m4a, aac, mkv or webm)",
    "history": "a history",
    "marks": "a table of marks",
    "members": "a table",
    "moves": "a table of moves",
    "onsets": "a table of onsets",
    "opened_sound": "a sound file (wav, flac, ogg, opus or mp3)",
    "person": "a person's file",
    "plan": "a plan in JSON",
    "readings": "a table",
    "recording": "a recording",
    "routine": "a routine",
    "routine_to_write": "a routine",
    "rules": "a rule table",
    "session": "a session",
    "sound": "a sound file (wav, flac, ogg, opus or mp3)",
    "table_of_words": "a table of words",
    "take": "a take",
    "take_or_table": "a take or a table",
}

_LOOK_FOR_IT = "check the name and the folder"
#: What to do where it is none, by what was wanted.
HINTS = {
    "beats": "one time in seconds on each line, and after a tab its place in the bar",
    "drill": "tempo-coach drills lists those that came with the program",
    "film": _LOOK_FOR_IT,
    "marks": "expected a table with a header: a column frame (counted from 0) or time (s of the "
    "film), and a column hand",
    "members": "expected a table with a header and the columns time (s) and member",
    "onsets": "expected a table with a header and the columns time (s on the take clock) and hand",
    "plan": "write it again with tempo-coach cue … --plan PLAN.json",
    "readings": "expected a table with a header: a time column, and positions, accelerations or rotation rates",
    "routine": "tempo-coach counts MUSIC makes one",
    "sound": _LOOK_FOR_IT,
    "take": "expected a file that tempo-coach practise wrote",
}

#: What cannot be written.
_WRITTEN = {
    "copy": "the copy",
    "file": "the file",
    "film": "the film",
    "person": "the person's file",
    "routine": "the routine",
    "session": "the session",
    "take": "the take",
}

_KINDS = {"device": "a device", "disk": "a disk", "folder": "a folder", "pipe": "a pipe", "socket": "a socket"}


def hint_for(what: str) -> str:
    """Return the next step for a file of the wrong kind; empty without one."""
    return tr(HINTS.get(what, ""))


def _of_other_kind(what: str, kind: str) -> str:
    return hint_for(what) if kind == "folder" else tr("give a file: what comes out of it can be kept in one first")


WORDS: dict[str, Entry] = {
    "file.not_installed": (
        "the folder of {folder} that belongs to the program is missing",
        "install tempo_coach again",
    ),
    "file.other_kind": (
        lambda what, kind: tr("expected {what}, found {kind}", what=tr(WANTED[what]), kind=tr(_KINDS[kind])),
        _of_other_kind,
    ),
    "file.too_large": (
        lambda what, most_mib, found_mib: tr(
            "expected {what} of up to {most_mib:g} MiB, found {found_mib:.0f} MiB",
            what=tr(WANTED[what]),
            most_mib=most_mib,
            found_mib=found_mib,
        ),
        "see whether this is the right file; of a long record, the passage is enough",
    ),
    "file.endless": (
        lambda what, most_mib: tr(
            "expected {what} of up to {most_mib:g} MiB, found more", what=tr(WANTED[what]), most_mib=most_mib
        ),
        hint_for,
    ),
    "file.missing": (lambda what: tr("expected {what}, but there is no such file", what=tr(WANTED[what])), hint_for),
    "file.folder": (lambda what: tr("expected {what}, found a folder", what=tr(WANTED[what])), hint_for),
    "file.no_text": (
        lambda what: tr("expected {what}, found something that is no text", what=tr(WANTED[what])),
        hint_for,
    ),
    "file.unreadable": (
        lambda what, reason: tr(
            "expected {what}, but it cannot be read ({reason})", what=tr(WANTED[what]), reason=reason
        ),
        hint_for,
    ),
    "file.no_such_name": (
        lambda what: tr("expected {what}, but no file can have this name", what=tr(WANTED[what])),
        hint_for,
    ),
    "file.not_read": "the file cannot be read ({reason})",
    "folder.missing": ("there is no such folder", "make the folder first"),
    "file.not_there": "no file can be written there ({reason})",
    "file.impossible_name": ("no file can have this name", "use another name"),
    "file.exists": ("the file exists and is not overwritten", "use another name or --force"),
    "file.was_read": ("this file was read and is not written over", "use another name"),
    "file.no_file": lambda kind: tr("expected the name of a file, found {kind}", kind=tr(_KINDS[kind])),
    "file.not_written": lambda what, reason: tr(
        "{what} cannot be written ({reason})", what=tr(_WRITTEN[what]), reason=reason
    ),
}
