"""The picture of the practise screen at one instant, as plain values: made from the session, drawn elsewhere."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from tempo_coach.coach.notices import tell
from tempo_coach.coach.practising.movement import SHORTEST_SHOWN
from tempo_coach.languages import tr
from tempo_coach.live.practice.hand_keys import default_keys
from tempo_coach.live.practice.session import Stage
from tempo_coach.report.words import practising as words
from tempo_coach.report.words.live import say_rule

if TYPE_CHECKING:
    from collections.abc import Sequence

    from tempo_coach.coach.practising.movement import Movement
    from tempo_coach.live.practice.last_word import LastWord
    from tempo_coach.live.practice.session import PracticeState
    from tempo_coach.pattern.plan.plan import Plan


@dataclass(frozen=True)
class PracticePicture:
    """The visible state of a practice.

    Parameters
    ----------
    title, place, take : str
        Of the drill; where she is; which take.
    number, number_means : str
        The big number, and what it counts.
    now, now_short, now_circles, next, next_short, next_in, next_circles
        The moves, in few words where there is little room, their circles by hand, and how far ahead the next one is.
    word, word_hand, word_hand_name
        The last word, and the hand that it is about, by its number and its name.
    so_far : str
        A sign for each of the words of this take, the newest last.
    rule : str
        How the tempo goes up and down, where it does.
    at : float
        Counts from the start of the cycle; NaN outside.
    asks_all : bool
        Whether all of a cycle's moments are asked for; in the first one those are not that trail past its end.
    section : int
        Which drill of a run-through is drawn, -1 without any.
    remark : str
        Of the routine, at this eight.
    caution : str
        What she has to mind, before a take.
    sentence, sound, keys : str
        Whatever has to be said; what it plays through; the hands' keys.
    """

    stage: Stage
    title: str = ""
    place: str = ""
    take: str = ""
    number: str = ""
    number_means: str = ""
    now: str = ""
    now_short: str = ""
    now_circles: tuple[int, ...] = ()
    next: str = ""
    next_short: str = ""
    next_in: str = ""
    next_circles: tuple[int, ...] = ()
    word: str = ""
    word_hand: int = -1
    word_hand_name: str = ""
    so_far: str = ""
    rule: str = ""
    at: float = math.nan
    asks_all: bool = False
    section: int = -1
    remark: str = ""
    caution: str = ""
    sentence: str = ""
    sound: str = ""
    keys: str = ""


#: The words of a take in one sign each.
SIGNS = {"early": "<", "late": ">", "steady": "="}


def make_picture(
    session: PracticeState,
    movement: Movement,
    *,
    word: LastWord | None = None,
    so_far: Sequence[LastWord] = (),
    sound: str = "",
) -> PracticePicture:
    """Return the present picture.

    Parameters
    ----------
    movement : Movement
        Of the session's plan.
    so_far : sequence of LastWord
        All words of this take.
    sound : str
        What it plays through, in words.
    """
    plan = session.plan
    base = PracticePicture(
        stage=session.stage,
        section=movement.section_at(plan.first_count),
        title=plan.title,
        take=words.say_take(session.number, session.way.takes),
        sentence=tell(session.notice),
        sound=sound,
        keys=words.say_keys(session.keys),
    )
    match session.stage:
        case Stage.ASKING:
            default = words.say_key(
                dict(default_keys(session.hands, session.keys))[session.asked_hand or session.hands[0]]
            )
            return replace(
                base,
                now=f"{session.asked_hand}",
                number_means=words.ASK_KEY,
                next=default,
                next_in=words.DEFAULT_KEY,
            )
        case Stage.WAITING:
            tempo = words.say_tempo(session.tempo_bpm)
            rule = say_rule(session.way.steps)
            return replace(base, now="ready?", number_means=tempo, next="Enter", next_in="start with", rule=rule)
        case Stage.WALKING | Stage.RESTING:
            return replace(
                base,
                number=f"{math.ceil(session.left):d}",
                number_means="seconds",
                now="walk in" if session.stage is Stage.WALKING else "rest",
            )
        case Stage.OPENING:
            return replace(
                base,
                now="wait",
                sentence=tell(session.notice) or (words.OPENING if session.started else words.MAKING_CUES),
            )
        case Stage.JUDGING:
            return replace(base, now="done", sentence=words.JUDGING)
        case Stage.PAUSED:
            go_on = words.say_how_to_go_on(session.keys, can_resume=session.can_resume)
            return replace(base, now="paused", sentence=tell(session.notice), next_in=go_on)
        case Stage.PLAYING:
            signs = " ".join(SIGNS[each.word] for each in so_far)
            return replace(_playing(base, session, movement, word), so_far=signs)
        case _:
            return base


def say_number_of_count(plan: Plan, count: float, period: float) -> str:
    """Return the count shown at a position; every other one where they follow too fast.

    Parameters
    ----------
    period : float
        Seconds that a count takes.
    """
    whole = math.floor(count + 1e-6)
    if whole < plan.first_count:
        length = plan.eights[0].length
        number = int((whole - plan.first_count) % length)
    else:
        number = int(plan.place(float(whole)).count) - 1
    if period < SHORTEST_SHOWN - 1e-9:
        number -= number % 2
    return str(number + 1)


def _playing(
    base: PracticePicture, session: PracticeState, movement: Movement, word: LastWord | None
) -> PracticePicture:
    plan = session.plan
    position = 0.0 if math.isnan(session.position) else max(session.position, 0.0)
    count = float(plan.counts_at(position))
    behind = int(np.searchsorted(plan.knot_times, position, side="right"))
    left, right = max(behind - 1, 0), min(behind, len(plan.knot_times) - 1)
    stands = plan.knot_counts[left] == plan.knot_counts[right] and left != right
    span = float(plan.knot_counts[right] - plan.knot_counts[left])
    period = float(plan.knot_times[right] - plan.knot_times[left]) / span if span else 1.0
    now, following = movement.at(count)
    lead_in = count < plan.first_count - 1e-6
    place = plan.place(count)
    first, last = plan.eights[0].number, plan.eights[-1].number
    ahead = math.ceil(following.start - count - 1e-6) if following else 0
    section = movement.section_at(count)
    drawn = movement.section(section)
    now_name = "wait" if stands else now.name if now else "lead-in"
    return replace(
        base,
        place=tr("lead-in") if lead_in else words.say_eight(place.eight, first, last),
        number=say_number_of_count(plan, count, period),
        number_means="count",
        now=now_name,
        now_short=now.short if now and not stands else "",
        now_circles=now.circles if now and not stands else (),
        next=following.name if following else "end",
        next_short=following.short if following else "",
        next_in=words.say_ahead(ahead) if following else "",
        next_circles=following.circles if following else (),
        word=word.word if word else "",
        word_hand=plan.hands.index(word.hand) if word else -1,
        word_hand_name=word.hand if word and len(plan.hands) > 1 else "",
        at=drawn.in_cycle(count),
        asks_all=drawn.asks_all(count),
        section=section,
        remark=movement.remark_at(count),
    )
