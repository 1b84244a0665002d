"""Today's practice and goals in words: lists of at most 80 columns, the sentences of pages and screens."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, NamedTuple

from tempo_coach.history.planner import LENGTHS, Because, SessionPart
from tempo_coach.history.season import EVEN_PCT, Outlook
from tempo_coach.history.session_record import DONE, SKIPPED
from tempo_coach.languages import tr
from tempo_coach.report.words.amounts import join_words, say_day, several
from tempo_coach.report.words.reasons import say_reason
from tempo_coach.signs import wrap

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from tempo_coach.history.planner import SessionItem
    from tempo_coach.history.roster import Person
    from tempo_coach.history.season import Goal, Verdict, Week
    from tempo_coach.history.session_record import SessionRecord

WIDTH = 80
CUES = {
    "all": "every cue",
    "alternate": "every other cue",
    "ones": "the ones only",
    "none": "no cues",
    "thinning": "fewer and fewer cues",
}
_SIGNS = {DONE: "✓", SKIPPED: "–", "": " "}
_BECAUSE = {
    Because.STEADY: "slow and easy, to get warm: the steadiest one",
    Because.WEAKEST: "the least even one: each time round differs by {:.1f} %",
    Because.WEAK: "perhaps as uneven: each time round differs by {:.1f} %",
    Because.BROKE: "not steady the last time",
    Because.RESTED: "not done for {:.0f} days",
    Because.GOAL: "its goal is in {:.0f} days",
    Because.NEW: "new: not done yet",
    Because.NEXT: "its turn: each time round differs by {:.1f} %",
    Because.COMPETITION: "once, as in competition",
}


class SessionLine(NamedTuple):
    """An item of a session in words: heading, drill, details, short form, reason, and whether it is over."""

    part: str
    title: str
    how: str
    short: str
    why: str
    sign: str


def say_item(item: SessionItem, title: str, state: str = "") -> SessionLine:
    """Return an item of a session in words."""
    part = {SessionPart.WARM_UP: tr("warm-up"), SessionPart.LAST: tr("last one")}.get(
        item.part, tr("block {block}", block=item.block)
    )
    cues, several_takes = tr(CUES.get(item.cues, item.cues)), item.takes > 1
    why = _BECAUSE[item.because]
    return SessionLine(
        part,
        title,
        tr(
            "{tempo_bpm:.0f} beats a minute, {get}, {takes} takes"
            if several_takes
            else "{tempo_bpm:.0f} beats a minute, {get}",
            tempo_bpm=item.tempo_bpm,
            get=cues,
            takes=item.takes,
        ),
        tr(
            "{tempo_bpm:>3.0f} {get}, {takes} takes" if several_takes else "{tempo_bpm:>3.0f} {get}",
            tempo_bpm=item.tempo_bpm,
            get=cues,
            takes=item.takes,
        ),
        tr(why) if math.isnan(item.number) else tr(why, item.number),
        _SIGNS.get(state, " "),
    )


def say_whose(person: Person, minutes: int) -> str:
    """Return a coach's information beside a name: level or age class, duration, and whether drills are mirrored.

    Examples
    --------
    >>> from tempo_coach.history.roster import Person
    >>> say_whose(Person("Ada", level="juniors", hand="left"), 20)
    'juniors, 20 minutes, mirrored'
    """
    return ", ".join(filter(None, (person.level, several(minutes, "minute"), tr("mirrored") * person.mirrors)))


def say_how_long(minutes: int) -> str:
    """Return the question that is asked once, before her first session."""
    others = join_words((str(each) for each in LENGTHS if each != minutes), "{first} or {second}")
    return tr(
        "{minutes} minutes: is that right? F4 makes it {others}. It stays so until you press F4 again.",
        minutes=minutes,
        others=others,
    )


def format_session(
    name: str, record: SessionRecord, titles: Mapping[str, str], *, cautions: Mapping[str, str] | None = None
) -> str:
    """Return a session as text, a line an item and a line on how it is done, cautions last.

    Parameters
    ----------
    name : str
    record : SessionRecord
    titles, cautions : mapping of str to str
        Of the drills, by their names.
    """
    done = sum(bool(state) for state in record.states)
    head = tr("{name}: {said}", name=f"{name}, {record.day}", said=several(record.minutes, "minute"))
    lines = wrap(
        tr("{head}, {done} of {number} done", head=head, done=done, number=len(record.items)) if done else head, WIDTH
    )
    part = ""
    for number, (item, state) in enumerate(zip(record.items, record.states, strict=True), start=1):
        told = say_item(item, titles.get(item.drill, item.drill), state)
        if told.part != part:
            part = told.part
            lines.append(tr("{name}:", name=part))
        lines += wrap(f"{told.sign}{number:>3}  {tr(told.title)}", WIDTH, subsequent_indent="      ")
        lines += wrap(f"{told.how} ({told.why})", WIDTH, initial_indent="      ", subsequent_indent="      ")
    minded = dict.fromkeys((cautions or {}).get(item.drill, "") for item in record.items)
    for caution in minded:
        lines += wrap(tr("Mind: {caution}.", caution=tr(caution)), WIDTH) if caution else []
    return "\n".join(lines)


def session_to_dict(name: str, record: SessionRecord) -> dict[str, object]:
    """Return a session as plain values."""
    items = [
        {
            **{key: getattr(item, key) for key in ("block", "drill", "tempo_bpm", "cues", "takes", "tolerance")},
            "part": str(item.part),
            "because": str(item.because),
            "number": None if math.isnan(item.number) else item.number,
            "state": state,
        }
        for item, state in zip(record.items, record.states, strict=True)
    ]
    return {"athlete": name, "day": record.day, "minutes": record.minutes, "items": items}


def say_goal(goal: Goal, title: str) -> str:
    """Return a goal as a coach says it.

    Examples
    --------
    >>> from datetime import date
    >>> from tempo_coach.history.season import Goal
    >>> say_goal(Goal("clubs_mills", date(2031, 3, 14), 112.0, "ones"), "Mills")
    'Mills: even at 112 with the ones only by 14 March 2031'
    """
    cues = {"none": tr("without cues")}.get(goal.cues, tr("with {get}", get=tr(CUES.get(goal.cues, goal.cues))))
    said = tr(
        "{title}: even at {tempo_bpm:.0f} {cues} by {on}",
        title=tr(title),
        tempo_bpm=goal.tempo_bpm,
        cues=cues,
        on=say_day(goal.on),
    )
    return f"{said} ({goal.what})" if goal.what else said


def say_outlook(verdict: Verdict) -> str:
    """Return whether a goal is on the way, and why no more can be said."""
    match verdict.outlook:
        case Outlook.ON_THE_WAY:
            return tr(
                "on the way: {pct:.1f} % uneven now, and {even_pct:g} % is even", pct=verdict.now.pct, even_pct=EVEN_PCT
            )
        case Outlook.NOT:
            return tr(
                "not on the way: {pct:.1f} % uneven now, and {even_pct:g} % is even; another day or tempo?",
                pct=verdict.now.pct,
                even_pct=EVEN_PCT,
            )
        case Outlook.OVER:
            return tr("its day is over")
        case _:
            return tr("cannot be told yet: {reason}", reason=say_reason(verdict.reason))


def format_goals(told: Sequence[tuple[Goal, str, Verdict, Sequence[Week]]]) -> str:
    """Return goals with their outlooks and the weeks that lead there."""
    lines: list[str] = []
    for goal, title, verdict, weeks in told:
        lines += wrap(say_goal(goal, title), WIDTH, subsequent_indent="  ")
        lines += wrap(say_outlook(verdict), WIDTH, initial_indent="  ", subsequent_indent="  ")
        for week in weeks:
            left = tr("the last week") if week.left == 0 else tr("{weeks} left", weeks=several(week.left, "week"))
            lines.append(
                tr(
                    "    from {begins}: up to {tempo_bpm:.0f}, {cues} ({left})",
                    begins=week.begins,
                    tempo_bpm=week.tempo_bpm,
                    cues=tr(CUES[week.cues]),
                    left=left,
                )
            )
    return "\n".join(lines) if lines else tr("No goal is set.")


def goals_to_dict(told: Sequence[tuple[Goal, str, Verdict, Sequence[Week]]]) -> list[object]:
    """Return the same as plain values."""
    return [
        {
            "drill": goal.drill,
            "on": goal.on.isoformat(),
            "tempo_bpm": goal.tempo_bpm,
            "cues": goal.cues,
            "what": goal.what,
            "outlook": str(verdict.outlook),
            "chance": _plain(verdict.chance),
            "uneven_pct_now": _plain(verdict.now.pct),
            "uneven_pct_then": _plain(verdict.then.pct),
            "reason": say_reason(verdict.reason) or None,
            "weeks": [week._asdict() | {"begins": week.begins.isoformat()} for week in weeks],
        }
        for goal, _, verdict, weeks in told
    ]


def _plain(number: float) -> float | None:
    return None if math.isnan(number) else number
