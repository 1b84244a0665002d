"""The history's verbs: judging, storing and re-judging takes.

::

    number = keep_take(take, athlete="Ada", begun="2031-05-04T18:15")
    changed = rescore([number], made="2031-06-01T09:00")
"""

from __future__ import annotations

import math
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

from tempo_coach.coach import Placed, is_steady, judge_placed, judge_take
from tempo_coach.coach.spreading import spread
from tempo_coach.errors import CoachError

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from tempo_coach.coach.judging import JudgedGroup
    from tempo_coach.history.columns import TakeRow
    from tempo_coach.history.records import Kept
    from tempo_coach.history.takes import History
    from tempo_coach.observe.take.onsets import Take
    from tempo_coach.reasons import Warn
    from tempo_coach.score.card import Scorecard
    from tempo_coach.share_done import Progress

    #: A scorecard as plain values, and whether its take was steady.
    Judged = tuple[dict[str, object], bool]

#: Tempi that differ by no more than this share are compared. Spread grows about in proportion to the interval (Weber's
#: law, from memory), so that it changes by no more than that, far below what two takes of one tempo differ by.
SAME_TEMPO = 0.04
#: Takes that are judged at a time when many are, so that memory stays small.
TOGETHER = 200


class Alike(NamedTuple):
    """Number of takes that an athlete has of a drill, and the newest one that can be compared."""

    kept: int
    newest: Kept | None


def name_routine(given: str) -> str:
    """Return the name of a routine's takes in the history.

    Parameters
    ----------
    given : str
        A name as it is; of a routine's file that of its music, under which its takes are kept.

    Raises
    ------
    CoachError
        If it is a file that cannot be read.
    """
    from tempo_coach.pattern.routine.routine_file import read_routine

    return Path(read_routine(given).music.path).stem if given.endswith(".toml") else given


def keep_take(
    take: Take,
    *,
    athlete: str,
    begun: str,
    card: Scorecard | None = None,
    routine: str | None = None,
    ended: str = "",
    setup: Mapping[str, object] | None = None,
    note: str = "",
    file: Path | None = None,
) -> int:
    """Store a take and its scorecard in the history, and return its number.

    Parameters
    ----------
    begun : str
        ISO 8601.
    card : Scorecard or None
        Where it has been judged already.
    routine : str or None
        By default the name of the plan's piece of music.
    ended, setup, note
        As in :meth:`tempo_coach.history.takes.History.put`.
    file : Path or None
        The history; by default that of the data folder.

    Raises
    ------
    CoachError
        If the history cannot be written.
    """
    from tempo_coach.history.data_folder import history_file
    from tempo_coach.history.takes import History

    card = card or judge_take(take)
    with History(file or history_file()) as history:
        return _put(
            history, take, card, athlete=athlete, begun=begun, routine=routine, ended=ended, setup=setup, note=note
        )


def _put(history: History, take: Take, card: Scorecard, *, routine: str | None = None, **said: Any) -> int:
    from tempo_coach.report.words.card import card_to_dict

    if routine is None and take.plan.music is not None:
        routine = Path(take.plan.music.path).stem
    return history.put(take, card_to_dict(card), steady=is_steady(card), routine=routine, **said)


def keep_take_file(
    path: str | Path, *, athlete: str, begun: str | None = None, file: Path | None = None, warn: Warn | None = None
) -> int:
    """Store the take in a file written by practise. See :func:`keep_take`."""
    from tempo_coach.observe.take.take_file import read_take_file

    kept = read_take_file(path, warn=warn)
    begun = begun or kept.begun
    if not begun:
        raise CoachError("take.undated", where=str(path))
    setup = {"player": kept.player, "file": str(Path(path).resolve())}
    return keep_take(kept.take, athlete=athlete, begun=begun, ended=kept.ended, setup=setup, file=file)


def keep_group(group: JudgedGroup, *, team: str, begun: str, file: Path | None = None) -> int:
    """Store a group's figures under the name of the group, and return the number of the performance.

    The takes of its members are kept too, each in her name, but for those that the history has and those that lie on
    no music and no cues, of which nobody knows early and late.

    Raises
    ------
    CoachError
        If nobody is known in it, or the history cannot be written.
    """
    from tempo_coach.history.data_folder import history_file
    from tempo_coach.history.performances import keep_performance
    from tempo_coach.history.takes import History
    from tempo_coach.score.group.own_moments import keep_own_part

    plan = next(iter(group.takes.values())).plan if group.takes else None
    turns = group.card.reasons.get("turns")
    moments = turns.args[1] if turns else None
    own = {
        member: keep_own_part(take, round_of=moments if isinstance(moments, int) else None)
        for member, take in group.takes.items()
        if not group.own_clock and member not in group.known and len(take.onsets)
    }
    # a sensor that shows no place in the circle says nothing of early and late
    placed = {member: Placed(take, member not in group.card.without_zero, None) for member, take in own.items()}
    cards = {member: judge_placed(each) for member, each in placed.items()}
    with History(file or history_file()) as history, history.writing():  # all of it or nothing
        number = keep_performance(history, group.card, plan, team=team, begun=begun)
        for member, take in own.items():
            setup = {"team": team, **say_placing(placed[member])}
            _put(history, take, cards[member], athlete=member, begun=begun, setup=setup)
    return number


def say_placing(placed: Placed) -> dict[str, object]:
    """Return the part of a take's setup that :func:`judge_kept` needs to judge it again."""
    fitted: dict[str, object] = {} if placed.absolute else {"fitted": True, "confidence": placed.confidence}
    if placed.mark_sd is None:
        return fitted
    return {**fitted, "mark_sd": placed.mark_sd if math.isfinite(placed.mark_sd) else "unknown"}


def judge_kept(kept: Kept) -> Scorecard:
    """Judge a take of the history again, placed as it was then."""
    setup = kept.setup
    mark_sd = setup.get("mark_sd")
    known = math.inf if mark_sd == "unknown" else mark_sd
    return judge_placed(Placed(kept.take, not setup.get("fitted", False), setup.get("confidence"), mark_sd=known))


def rescore(
    numbers: Sequence[int],
    *,
    made: str,
    file: Path | None = None,
    jobs: int = 1,
    scheduler: str | None = None,
    progress: Progress | None = None,
) -> int:
    """Judge takes of the history again, keep the old scorecards, and return how many differ.

    Parameters
    ----------
    made : str
        Date and time of the new scorecards, ISO 8601.
    jobs : int
        Processes that judge; -1 for one on each core. This one alone writes.
    scheduler : str or None
        Address of a Dask scheduler whose machines judge instead, with this program installed on them.
    progress : callable or None

    Raises
    ------
    CoachError
        If one of them is not there, or the scheduler cannot be reached.
    """
    from tempo_coach.history.data_folder import history_file
    from tempo_coach.history.takes import History

    changed = 0
    with History(file or history_file()) as history, spread(jobs, scheduler) as on_all:
        for done in range(0, len(numbers), TOGETHER):
            kept = [history.take(number) for number in numbers[done : done + TOGETHER]]
            for each, (said, steady) in zip(kept, on_all(_judge_again, kept), strict=True):
                if said != each.card:
                    changed += 1
                    history.put_card(each.row.number, said, steady=steady, made=made)
            if progress:
                progress((done + len(kept)) / len(numbers))
    return changed


def _judge_again(kept: Kept) -> Judged:
    from tempo_coach.report.words.card import card_to_dict

    card = judge_kept(kept)
    return card_to_dict(card), is_steady(card)


def take_before(history: History, row: TakeRow) -> Kept | None:
    """Return the athlete's previous take of the same drill, None without one."""
    from tempo_coach.history.records import Wanted

    alike = history.find(Wanted(athlete=row.athlete, drill=row.drill, counting=True))
    before = [each.number for each in alike if each.begun < row.begun]
    return history.take(before[-1]) if before else None


def find_alike(take: Take, *, athlete: str, file: Path | None = None) -> Alike:
    """Return the athlete's takes in the history that are like a take.

    Parameters
    ----------
    file : Path or None
        The history; by default that of the data folder.

    Raises
    ------
    CoachError
        If the history cannot be read, has nobody of that name, or a take in it is damaged.
    """
    from tempo_coach.history.columns import tempo_of
    from tempo_coach.history.data_folder import history_file
    from tempo_coach.history.records import Wanted
    from tempo_coach.history.takes import History

    if not (file or history_file()).exists():
        return Alike(0, None)
    tempo = tempo_of(take)
    with History(file or history_file(), read_only=True) as history:
        rows = history.find(Wanted(athlete=athlete, drill=take.plan.drill, counting=True))
        numbers = [
            row.number
            for row in rows
            if row.observed_by == take.observed_by and abs(row.tempo_bpm - tempo) <= SAME_TEMPO * tempo and row.n > 1
        ]
        return Alike(len(rows), history.take(numbers[-1]) if numbers else None)


def take_page_of(history: History, number: int) -> str:
    """Return the page of a take of the history, with praise where it improves on the previous take of the drill.

    Raises
    ------
    CoachError
        If there is no such take.
    """
    from tempo_coach.report.pages.take import take_page

    kept = history.take(number)
    row, before = kept.row, take_before(history, kept.row)
    return take_page(
        judge_kept(kept),
        athlete=row.athlete,
        begun=row.begun,
        notes=[f"{note.written[:10]}: {note.text}" for note in kept.notes],
        previous=judge_kept(before) if before else None,
    )


def take_page_in(file: Path, number: int) -> str:
    """Return the page of a take of the history that lies in a file. See :func:`take_page_of`."""
    from tempo_coach.history.takes import History

    with History(file, read_only=True) as history:
        return take_page_of(history, number)


def judge_take_file(path: str | Path, *, warn: Warn | None = None) -> tuple[Scorecard, str]:
    """Return the scorecard of a take in a file that practise wrote, and when the take began.

    Raises
    ------
    CoachError
        If the file cannot be read.
    """
    from tempo_coach.observe.take.take_file import read_take_file

    kept = read_take_file(path, warn=warn)
    return judge_take(kept.take), kept.begun
