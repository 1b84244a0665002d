"""Corrections and merges in words."""

from __future__ import annotations

import shlex
from typing import TYPE_CHECKING

from tempo_coach.languages import tr
from tempo_coach.report.words.amounts import several
from tempo_coach.report.words.sentence import tell
from tempo_coach.signs import wrap

if TYPE_CHECKING:
    from tempo_coach.history.merge import MergeConflict, MergeResult
    from tempo_coach.history.take_corrections import Corrected, TakeCorrection

WIDTH = 80
#: Conflicts that are told one by one.
MOST_CONFLICTS = 20
_UNDONE = {
    "move": "Take {take} is {athlete}'s and as it was before it was given to another athlete on {made}.",
    "counting": "Take {take} is {athlete}'s and as it was before it was set to count, or not on {made}.",
    "remove": "Take {take} is {athlete}'s and as it was before it was removed on {made}.",
    "drill": "Take {take} is {athlete}'s and as it was before it was put on another drill on {made}.",
    "eight": "Take {take} is {athlete}'s and as it was before it was put on another eight on {made}.",
    "note": "Take {take} is {athlete}'s and as it was before it had its note changed on {made}.",
}


def say_corrected(done: Corrected) -> str:
    """Return what was put right, and where it was judged again what is told of it now."""
    number, row = done.number, done.row
    if row is None:
        return tr(
            "Take {number} is removed; until the next correction tempo-coach correct --undo brings it back.",
            number=number,
        )
    sentence = tell(done.card) if done.card else ""
    if done.kind == "move":
        return tr(
            "Take {number} is {athlete}'s, who is new here; tempo-coach correct --undo brings it back."
            if done.is_new
            else "Take {number} is {athlete}'s; tempo-coach correct --undo brings it back.",
            number=number,
            athlete=row.athlete,
        )
    if done.kind == "drill":
        return tr("Take {number} is of {title} now: {sentence}", number=number, title=tr(row.title), sentence=sentence)
    if done.kind == "eight":
        return tr(
            "Take {number} begins with eight {eight} now: {sentence}",
            number=number,
            eight=done.value,
            sentence=sentence,
        )
    if done.kind == "note":
        return (
            tr("The note on take {number} is changed.", number=number)
            if str(done.value).strip()
            else tr("The note on take {number} is taken away.", number=number)
        )
    return (
        tr("Take {number} counts again.", number=number)
        if done.kind == "counting"
        else tr("Take {number} does not count any more.", number=number)
    )


def say_undone(correction: TakeCorrection) -> str:
    """Return what was undone."""
    form = _UNDONE[correction.kind]
    return tr(form, take=correction.take, athlete=correction.athlete, made=correction.made[:10])


def format_merged(merged: MergeResult) -> str:
    """Return what a merge brought, and what it left out or found to differ."""
    if not (merged.takes or merged.cards or merged.notes or merged.performances):
        told = [
            tr("Nothing new: all {takes} there are here already.", takes=several(merged.known, "take"))
            if merged.known > 1
            else tr("Nothing new.")
        ]
    else:
        told = [tr("{takes} came; {known} were here already.", takes=several(merged.takes, "take"), known=merged.known)]
        if merged.cards or merged.notes:
            told.append(
                tr(
                    "To what was here came {scorecards} and {notes}.",
                    scorecards=several(merged.cards, "scorecard"),
                    notes=several(merged.notes, "note"),
                )
            )
        if merged.performances:
            told.append(tr("{performances} of groups came.", performances=several(merged.performances, "performance")))
    if merged.athletes:
        told.append(tr("New here: {names}.", names=", ".join(merged.athletes)))
    if merged.both:
        told.append(
            tr(
                "In both: {names}. Their takes are one athlete's now; if they are two people, bring the backup "
                "back and merge with --as.",
                names=", ".join(merged.both),
            )
        )
    if merged.forgotten:
        told.append(
            tr(
                "Left out, because forgotten here: {names}. Give --again NAME where she is to come back.",
                names=", ".join(merged.forgotten),
            )
        )
    if merged.removed:
        told.append(tr("Left out, because removed here: {takes}.", takes=several(merged.removed, "take")))
    told += [_say_conflict(conflict) for conflict in merged.conflicts[:MOST_CONFLICTS]]
    if len(merged.conflicts) > MOST_CONFLICTS:
        told.append(tr("And {number} more takes are otherwise there.", number=len(merged.conflicts) - MOST_CONFLICTS))
    if merged.conflicts:
        told.append(tr("What is here was kept."))
    lines = [line for each in told for line in wrap(each, WIDTH, subsequent_indent="  ")]
    if merged.before is not None:  # a line to be copied, never broken
        lines.append(f"  tempo-coach history --restore {shlex.quote(str(merged.before))}")
    return "\n".join(lines)


def _say_conflict(conflict: MergeConflict) -> str:
    here, there = conflict.here, conflict.there
    if conflict.what == "athlete":
        return tr("Take {take} is {here}'s here and {there}'s there.", take=conflict.take, here=here, there=there)
    if conflict.what == "counting":
        return tr(
            "Take {take} does not count here ({here}), and not there either ({there})."
            if here and there
            else "Take {take} does not count here ({here}) and counts there."
            if here
            else "Take {take} counts here and does not count there ({there}).",
            take=conflict.take,
            here=here,
            there=there,
        )
    if here == there:
        return tr("Take {take} has another plan of {here} there.", take=conflict.take, here=here)
    return tr("Take {take} is of {here} here and of {there} there.", take=conflict.take, here=here, there=there)


def merged_to_dict(merged: MergeResult) -> dict[str, object]:
    """Return the same as plain values."""
    return {
        "takes": merged.takes,
        "known": merged.known,
        "scorecards": merged.cards,
        "notes": merged.notes,
        "performances": merged.performances,
        "removed": merged.removed,
        "forgotten": list(merged.forgotten),
        "new_athletes": list(merged.athletes),
        "in_both": list(merged.both),
        "conflicts": [conflict._asdict() for conflict in merged.conflicts],
    }
