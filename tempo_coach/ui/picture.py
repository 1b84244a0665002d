"""What the practise screen shows at one instant, as plain values: made from the session, drawn elsewhere."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import cached_property
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from tempo_coach.live.session import Stage, usual_keys
from tempo_coach.pattern.counts import read_count

if TYPE_CHECKING:
    from collections.abc import Sequence

    from tempo_coach.live.session import Session
    from tempo_coach.live.word import LastWord
    from tempo_coach.pattern.plan import Plan

#: Whatever changes more often than this many seconds apart is shown more rarely: a flash is a pair of opposing changes,
#: and there may be three a second (WCAG 2.3.1), so that no place changes more than twice as often.
SHORTEST_SHOWN = 1 / 3


class Move(NamedTuple):
    """A stretch of the plan with a name: a phase, or what leads up to a moment."""

    name: str
    short: str
    start: float
    circles: tuple[int, ...]


class Mark(NamedTuple):
    """A moment of the cycle: which hand's, counted from 0, where in counts from the cycle's start, and what it is."""

    hand: int
    at: float
    kind: str = "circle"


class Stretch(NamedTuple):
    """A phase of the cycle, in counts from its start."""

    name: str
    start: float
    end: float


@dataclass(frozen=True, eq=False)
class Course:
    """The moves of a plan along its counts, worked out once.

    Parameters
    ----------
    plan : Plan
    """

    plan: Plan

    @cached_property
    def phases(self) -> tuple[Stretch, ...]:
        """The phases of the cycle; none where the drill names none."""
        entries = self.plan.pattern.get("phase", ())
        rows = entries if isinstance(entries, (list, tuple)) else ()
        return tuple(Stretch(str(row["name"]), read_count(row["start"]), read_count(row["end"])) for row in rows)

    @cached_property
    def cycle_starts(self) -> np.ndarray:
        """Positions in counts at which the cycles begin."""
        starts = self.plan.cycle_starts
        return starts if len(starts) else np.array([self.plan.first_count])

    @cached_property
    def marks(self) -> tuple[Mark, ...]:
        """The moments of one cycle; one that trails past its end is put where the next cycle has it."""
        moments, plan = self.plan.moments, self.plan
        order = {hand: k for k, hand in enumerate(plan.hands)}
        return tuple(
            Mark(
                order[moments.hand[k]],
                float((moments.count[k] - self.cycle_starts[0]) % plan.cycle_counts),
                moments.kind[k],
            )
            for k in np.flatnonzero(moments.cycle == 0)
        )

    @cached_property
    def moves(self) -> tuple[Move, ...]:
        """Every move of the plan in order."""
        found: list[Move] = []
        short = shorten_names([stretch.name for stretch in self.phases or self._between_moments()])
        for start in self.cycle_starts:
            for stretch in self.phases or self._between_moments():
                at = float(start) + stretch.start
                inside = [mark.hand for mark in self.marks if stretch.start <= mark.at < stretch.end]
                circles = tuple(inside.count(hand) for hand in range(len(self.plan.hands)))
                if not found or self._seconds(found[-1].start, at) >= SHORTEST_SHOWN - 1e-9:
                    found.append(Move(stretch.name, short[stretch.name], at, circles))
        return tuple(found)

    def _between_moments(self) -> tuple[Stretch, ...]:
        places = sorted({mark.at for mark in self.marks})
        labels: dict[float, str] = {}
        for k in np.flatnonzero(self.plan.moments.cycle == 0):
            at = float((self.plan.moments.count[k] - self.cycle_starts[0]) % self.plan.cycle_counts)
            labels.setdefault(at, self.plan.moments.label[k])
        ends = [*places[1:], self.plan.cycle_counts]
        return tuple(Stretch(labels[a], a, b) for a, b in zip(places, ends, strict=True))

    def _seconds(self, start: float, end: float) -> float:
        times = np.interp([start, end], self.plan.knot_counts, self.plan.knot_times)
        return float(times[1] - times[0])

    def at(self, count: float) -> tuple[Move | None, Move | None]:
        """Return the move at a position and the one behind it."""
        starts = [move.start for move in self.moves]
        index = int(np.searchsorted(starts, count + 1e-6, side="right")) - 1
        now = self.moves[index] if index >= 0 else None
        following = self.moves[index + 1] if index + 1 < len(self.moves) else None
        return now, following

    def in_cycle(self, count: float) -> float:
        """Return how far into its cycle a position is, in counts; NaN outside all cycles."""
        index = int(np.searchsorted(self.cycle_starts, count + 1e-6, side="right")) - 1
        if index < 0:
            return math.nan
        into = count - float(self.cycle_starts[index])
        return into if into < self.plan.cycle_counts else math.nan


@dataclass(frozen=True)
class Picture:
    """What is to be seen.

    Parameters
    ----------
    stage : Stage
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
    sentence, sound, keys, foot : str
        Whatever has to be said; what it plays through; the hands' keys; what the keys do now.
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
    sentence: str = ""
    sound: str = ""
    keys: str = ""
    foot: str = ""


#: The words of a take in one sign each.
SIGNS = {"early": "<", "late": ">", "steady": "="}
#: What the keys do in each stage.
FEET = {
    Stage.ASKING: "Enter: usual keys, and start    F1: help    Ctrl+Q: leave",
    Stage.WAITING: "Enter: start    F1: help    Ctrl+Q: leave",
    Stage.WALKING: "Enter: start now    Ctrl+Q: leave",
    Stage.OPENING: "Ctrl+Q: leave",
    Stage.PLAYING: "Enter: end the take    Ctrl+Q: leave",
    Stage.PAUSED: "Enter: end the take    Ctrl+Q: leave",
    Stage.JUDGING: "Ctrl+Q: leave",
    Stage.RESTING: "Enter: stay here    Ctrl+Q: leave",
}


def make_picture(
    session: Session,
    course: Course,
    *,
    word: LastWord | None = None,
    so_far: Sequence[LastWord] = (),
    sound: str = "",
) -> Picture:
    """Return what is to be seen.

    Parameters
    ----------
    session : Session
    course : Course
        Of the session's plan.
    word : LastWord or None
    so_far : sequence of LastWord
        All words of this take.
    sound : str
        What it plays through, in words.
    """
    plan = session.plan
    base = Picture(
        stage=session.stage,
        title=plan.title,
        take=f"take {session.number}" + (f" of {session.way.takes}" if session.way.takes > 1 else ""),
        sentence=session.sentence,
        sound=sound,
        keys="   ".join(f"{hand}: {say_key(key)}" for hand, key in session.keys),
        foot=FEET.get(session.stage, ""),
    )
    match session.stage:
        case Stage.ASKING:
            usual = say_key(dict(usual_keys(session.hands, session.keys))[session.asked_hand or session.hands[0]])
            return replace(
                base,
                now=f"{session.asked_hand}",
                number_means="press the key for",
                next=usual,
                next_in="or Enter for the usual one,",
            )
        case Stage.WAITING:
            tempo = f"{session.tempo_bpm:.0f} a minute" if session.tempo_bpm else ""
            rule = session.way.steps.rule if session.way.steps is not None else ""
            return replace(base, now="ready?", number_means=tempo, next="Enter", next_in="start with", rule=rule)
        case Stage.WALKING | Stage.RESTING:
            means = "walk in" if session.stage is Stage.WALKING else "rest"
            return replace(base, number=f"{math.ceil(session.left):d}", number_means="seconds", now=means)
        case Stage.OPENING:
            return replace(base, now="wait", sentence=session.sentence or _opening_words(session))
        case Stage.JUDGING:
            return replace(base, now="done", sentence="Judging the take …")
        case Stage.PAUSED:
            keys = " or ".join(say_key(key) for _, key in session.keys) or "Space"
            go_on = f"Press {keys} to go on." if session.can_resume else "Waiting for the sound …"
            return replace(base, now="paused", sentence=session.sentence, next_in=go_on)
        case Stage.PLAYING:
            signs = "".join(SIGNS[each.word] for each in so_far)
            return replace(_playing(base, session, course, word), so_far=signs)
        case _:
            return base


def shorten_names(names: Sequence[str]) -> dict[str, str]:
    """Return the words by which each name differs from the others; the whole name where none does.

    Examples
    --------
    >>> shorten_names(["right wrist over", "left wrist over"])
    {'right wrist over': 'right', 'left wrist over': 'left'}
    """
    shared = set.intersection(*(set(name.split()) for name in names)) if names else set()
    return {name: " ".join(word for word in name.split() if word not in shared) or name for name in names}


def say_key(key: str) -> str:
    """Return a key as it is printed on it.

    Examples
    --------
    >>> say_key("j"), say_key("left_square_bracket")
    ('J', 'Left square bracket')
    """
    return key.replace("_", " ").capitalize()


def say_number_of_count(plan: Plan, count: float, period: float) -> str:
    """Return the count that is to be seen at a position; every other one where they follow too fast.

    Parameters
    ----------
    plan : Plan
    count : float
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


def _opening_words(session: Session) -> str:
    return "Opening the sound …" if session.started else "Making the cues …"


def _playing(base: Picture, session: Session, course: Course, word: LastWord | None) -> Picture:
    plan = session.plan
    position = 0.0 if math.isnan(session.position) else max(session.position, 0.0)
    count = float(plan.counts_at(position))
    behind = int(np.searchsorted(plan.knot_times, position, side="right"))
    left, right = max(behind - 1, 0), min(behind, len(plan.knot_times) - 1)
    stands = plan.knot_counts[left] == plan.knot_counts[right] and left != right
    span = float(plan.knot_counts[right] - plan.knot_counts[left])
    period = float(plan.knot_times[right] - plan.knot_times[left]) / span if span else 1.0
    now, following = course.at(count)
    lead_in = count < plan.first_count - 1e-6
    place = plan.place(count)
    last = plan.eights[-1].number
    ahead = math.ceil(following.start - count - 1e-6) if following else 0
    now_name = "wait" if stands else now.name if now else "lead-in"
    return replace(
        base,
        place="lead-in" if lead_in else f"eight {place.eight} ({plan.eights[0].number} to {last})",
        number=say_number_of_count(plan, count, period),
        number_means="count",
        now=now_name,
        now_short=now.short if now and not stands else "",
        now_circles=now.circles if now and not stands else (),
        next=following.name if following else "end",
        next_short=following.short if following else "",
        next_in=f"in {ahead} count{'s' if ahead != 1 else ''}" if following else "",
        next_circles=following.circles if following else (),
        word=word.word if word else "",
        word_hand=plan.hands.index(word.hand) if word else -1,
        word_hand_name=word.hand if word and len(plan.hands) > 1 else "",
        at=course.in_cycle(count),
    )
