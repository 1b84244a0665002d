"""Corrections and merges in words."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING

from tempo_coach.report.words.amounts import several

if TYPE_CHECKING:
    from tempo_coach.history.merge import MergeConflict, MergeResult
    from tempo_coach.history.take_corrections import TakeCorrection

WIDTH = 80
#: Conflicts that are told one by one.
MOST_CONFLICTS = 20
_DONE = {
    "move": "was given to another athlete",
    "counting": "was set to count, or not",
    "remove": "was removed",
    "drill": "was put on another drill",
    "eight": "was put on another eight",
    "note": "had its note changed",
}


def say_undone(correction: TakeCorrection) -> str:
    """Return what was undone."""
    return (
        f"Take {correction.take} is {correction.athlete}'s and as it was before it {_DONE[correction.kind]} "
        f"on {correction.made[:10]}."
    )


def format_merged(merged: MergeResult) -> str:
    """Return what a merge brought, and what it left out or found otherwise."""
    if not (merged.takes or merged.cards or merged.notes or merged.performances):
        told = [
            f"Nothing new: all {several(merged.known, 'take')} there are here already."
            if merged.known
            else "Nothing new."
        ]
    else:
        told = [f"{several(merged.takes, 'take')} came; {merged.known} were here already."]
        if merged.cards or merged.notes:
            told.append(
                f"To what was here came {several(merged.cards, 'scorecard')} and {several(merged.notes, 'note')}."
            )
        if merged.performances:
            told.append(f"{several(merged.performances, 'performance')} of groups came.")
    if merged.athletes:
        told.append(f"New here: {', '.join(merged.athletes)}.")
    if merged.both:
        told.append(
            f"In both: {', '.join(merged.both)}. Their takes are one athlete's now; if they are two people, "
            "bring the backup back and merge with --as."
        )
    if merged.forgotten:
        told.append(
            f"Left out, because forgotten here: {', '.join(merged.forgotten)}. "
            "Give --again NAME where she is to come back."
        )
    if merged.removed:
        told.append(f"Left out, because removed here: {several(merged.removed, 'take')}.")
    told += [_say_conflict(conflict) for conflict in merged.conflicts[:MOST_CONFLICTS]]
    if len(merged.conflicts) > MOST_CONFLICTS:
        told.append(f"And {len(merged.conflicts) - MOST_CONFLICTS} more takes are otherwise there.")
    if merged.conflicts:
        told.append("What is here was kept.")
    return "\n".join(line for each in told for line in textwrap.wrap(each, WIDTH, subsequent_indent="  "))


def _say_conflict(conflict: MergeConflict) -> str:
    here, there = conflict.here, conflict.there
    if conflict.what == "athlete":
        return f"Take {conflict.take} is {here}'s here and {there}'s there."
    if conflict.what == "counting":
        mine, other = (f"does not count ({each})" if each else "counts" for each in (here, there))
        return f"Take {conflict.take} {mine} here and {other} there."
    if here == there:
        return f"Take {conflict.take} has another plan of {here} there."
    return f"Take {conflict.take} is of {here} here and of {there} there."


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
