"""Corrections of takes: another drill, another eight, and all others by their word.

::

    correct_take(file, 17, "drill", "clubs_mills_two")
    undo_last(file)
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from tempo_coach.history.take_corrections import Corrected, CorrectionKind, TakeCorrection

if TYPE_CHECKING:
    from pathlib import Path

    from tempo_coach.history.takes import History
    from tempo_coach.pattern.plan.plan import Plan


__all__ = ["CorrectionKind", "correct_drill", "correct_eight", "correct_take", "undo_last"]


def correct_take(file: Path, number: int, kind: CorrectionKind, value: str | int = "") -> Corrected:
    """Put one thing of a take right, now.

    Raises
    ------
    CoachError
        If there is no such history, take, drill or name, or nothing to put right.
    """
    from tempo_coach.coach.archiving import judge_kept
    from tempo_coach.coach.looking_back import now, open_there
    from tempo_coach.history import take_corrections
    from tempo_coach.history.roster import complete_name

    made, text = now(), str(value)
    with open_there(file) as history:
        if kind == "remove":
            take_corrections.remove(history, number, made=made)
            return Corrected(number, kind)
        names: list[str] = []
        if kind == "move":
            names = [each.name for each in history.athletes()]
            take_corrections.move(history, number, to=complete_name(text, names), made=made)
        elif kind in ("not counting", "counting"):
            reason = text if kind == "not counting" else None
            take_corrections.set_counting(history, number, reason=reason, made=made)
        elif kind == "drill":
            correct_drill(history, number, text, made=made)
        elif kind == "eight":
            correct_eight(history, number, int(value), made=made)
        else:
            take_corrections.change_note(history, number, text, made=made)
        row = history.row(number)
        card = judge_kept(history.take(number)) if kind in ("drill", "eight") else None
    return Corrected(number, kind, row, card, value, kind == "move" and row.athlete not in names)


def undo_last(file: Path) -> TakeCorrection:
    """Undo the last correction, and return which it was.

    Raises
    ------
    CoachError
        If there is no such history, or nothing to undo.
    """
    from tempo_coach.coach.looking_back import open_there
    from tempo_coach.history.take_corrections import undo

    with open_there(file) as history:
        return undo(history)


def correct_drill(history: History, number: int, drill: str, *, made: str) -> None:
    """Judge a take as one of another drill, on the counts that were heard.

    Parameters
    ----------
    drill : str
        Name or path.
    made : str
        Date and time, ISO 8601.

    Raises
    ------
    CoachError
        If there is no such take or drill, or no cycle of it fits.
    """
    from tempo_coach.coach.drills import load_drill
    from tempo_coach.pattern.drill.drill_file import find_drill, pattern_data
    from tempo_coach.pattern.plan.laid_anew import with_drill

    kept = history.take(number)
    plan = with_drill(kept.take.plan, load_drill(drill), pattern_data(find_drill(drill)))
    _put(history, number, plan, kind="drill", made=made)


def correct_eight(history: History, number: int, eight: int, *, made: str) -> None:
    """Judge a take as one that began on another eight of its routine.

    Raises
    ------
    CoachError
        If there is no such take, or the eight is below 1.
    """
    from tempo_coach.pattern.plan.laid_anew import with_eights_from

    _put(history, number, with_eights_from(history.take(number).take.plan, eight), kind="eight", made=made)


def _put(history: History, number: int, plan: Plan, *, kind: str, made: str) -> None:
    from tempo_coach.coach import is_steady
    from tempo_coach.coach.archiving import judge_kept
    from tempo_coach.history.take_corrections import put_plan
    from tempo_coach.observe.take.onsets import Onsets
    from tempo_coach.report.words.card import card_to_dict

    kept = history.take(number)
    take = kept.take
    # a hand that the other drill does not have is its hand at the same place, or its last one
    order = {hand: plan.hands[min(k, len(plan.hands) - 1)] for k, hand in enumerate(take.plan.hands)}
    hands = [hand if hand in plan.hands else order.get(hand, plan.hands[-1]) for hand in take.onsets.hand]
    right = replace(take, plan=plan, onsets=Onsets(take.onsets.time, tuple(hands)))
    card = judge_kept(replace(kept, take=right))
    put_plan(history, number, right, card_to_dict(card), steady=is_steady(card), kind=kind, made=made)
