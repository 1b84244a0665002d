"""Errors of screens, and of what is typed there, in words."""

from __future__ import annotations

from typing import TYPE_CHECKING

from tempo_coach.report.words.errors.forms import or_else

if TYPE_CHECKING:
    from tempo_coach.report.words.errors.forms import Entry

WORDS: dict[str, Entry] = {
    "place.before_one": ("this lies before the first count 1", "f begins counting here"),
    "line.no_choice": "expected one of {known}, got {answer}",
    "steps.alone_or_group": "expected alone or group, got {found!r}",
    "laid.no_drill": ("there is no drill {drill}", or_else("Tab goes through them")),
    "movement.before_one": "the last movement comes after the first count 1",
    "steps.no_mark": ("dance steps go from a mark to here", "m marks where they begin"),
    "steps.backwards": "dance steps go from a count 1 or later to a later count",
    "counts.answer_first": (
        "nothing is saved while something is typed",
        "Enter takes it, Escape drops it; then Ctrl+S",
    ),
    "counts.save_first": ("the cut goes by the routine's file, which is older", "Ctrl+S first"),
    "counts.nothing_cut": ("nothing is cut as the counts are now", "K cuts: keep which eights"),
    "counts.not_saved": ("not saved yet", "Ctrl+S saves; the same key again leaves without"),
    "report.not_written": "the file cannot be written ({reason})",
    "place.unreadable": ("expected a folder or the name of a file", "a stick, or another disk"),
    "filmed.no_name": ("expected the name of a film", "type it, or drop the file on this window"),
    "filmed.no_colour": ("expected the colour of each hand's marker", "without it nothing tells which hand is which"),
    "filmed.one_without_marker": (
        "expected the other hand not to be filmed: without markers one movement is followed",
        "give both clubs tape, or follow each in its part of the picture: tempo-coach score --film FILE --part",
    ),
    "filmed.no_clap": (
        "expected two numbers of seconds, got {found}",
        "those of one clap, on the film and on the take: 2.1 0.5",
    ),
    "sensed.no_name": ("expected the name of a table", "type it, or drop the file on this window"),
    "sensed.no_clap": (
        "expected two numbers of seconds, got {found}",
        "those of one clap, in the table and on the take: 2.1 0.5",
    ),
    "sensed.no_columns": ("nothing says what the columns are", "← → lead through what they may be"),
    "filmed.broken_off": "the film was not read to its end",
    "new_drill.there_already": ("there is one already", "give it another name"),
    "new_drill.not_written": "the file cannot be written ({reason})",
    "new_drill.no_file_name": "expected a name for the file, got {name!r}",
    "new_drill.name_taken": ("there is a drill of this name in {folder}", "give it another one"),
    "new_drill.name_of_program": ("{name} came with the program", "give yours another name"),
    "screen.ended": ("the screen ended on its own", "what went wrong stands in {log}"),
    "screen.no_terminal": (
        "the screens need a terminal",
        "without one, write the cues to a file: tempo-coach cue DRILL --out FILE",
    ),
}
