"""The course of a practice as a pure state machine: ``step(session, event)`` returns the next state and what to do.

Nothing here opens a device, a file or a clock: stamps come in with the events, and what has to happen outside comes
back as orders. The course::

    ASKING (a key for each hand) -> WAITING (for Enter) -> WALKING (in) -> OPENING (the sound)
        -> PLAYING (lead-in, passage; perhaps PAUSED) -> JUDGING -> RESTING -> WALKING … or AFTER

A **stamp** is a reading of ``time.perf_counter`` in seconds; a **time** is seconds on the take clock.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace
from enum import Enum, StrEnum
from typing import TYPE_CHECKING, NamedTuple, TypeAlias

from tempo_coach.live.events import (
    Back,
    Began,
    Broke,
    Entered,
    Event,
    Finished,
    Judged,
    Leave,
    Noted,
    Prepared,
    Pressed,
    Tick,
)

if TYPE_CHECKING:
    from tempo_coach.pattern.plan import Plan
    from tempo_coach.pattern.practice import TempoSteps

#: Seconds after the first sample in which Enter ends nothing: whoever starts with it may press it twice.
JUST_BEGUN = 0.7
#: Keys that are never a hand's: they lead through the screens, or the terminal makes other keys of them.
RESERVED_KEYS = frozenset({"enter", "escape", "tab", "shift+tab", "up", "down", "left", "right", "pageup", "pagedown"})
#: Keys without a sign of their own that may be a hand's.
NAMED_KEYS = frozenset({"space", "backspace", "delete", "insert", "home", "end"})
#: Keys that Enter takes where she presses none: the two that a keyboard marks for the forefingers.
USUAL_KEYS = {"right": "j", "left": "f"}
SPARE_KEYS = ("j", "f", "k", "d", "l", "s")


class Stage(StrEnum):
    """Where in its course a practice is."""

    ASKING = "asking"
    WAITING = "waiting"
    WALKING = "walking in"
    OPENING = "opening"
    PLAYING = "playing"
    PAUSED = "paused"
    JUDGING = "judging"
    RESTING = "resting"
    AFTER = "after the take"
    LEFT = "left"


class Order(Enum):
    """What has to be done outside."""

    PREPARE = "make the samples of the next take, then say Prepared"
    WALK = "let the seconds of walking in be heard"
    PLAY = "start the samples"
    PLAY_SILENTLY = "start them on a silent clock"
    RESUME = "go on where the sound broke off"
    KEEP = "write the newest onset to the take's file"
    END = "fall silent, judge the take, then say Judged"
    SAY = "say a few words about the take"
    LEAVE = "close everything"


@dataclass(frozen=True)
class Way:
    """How a practice goes on from take to take.

    Parameters
    ----------
    ready : float
        Seconds to walk in before each take's lead-in.
    takes : int
        How many takes follow each other by themselves.
    rest : float
        Seconds between them.
    steps : TempoSteps or None
        How the tempo goes up and down.
    """

    ready: float = 0.0
    takes: int = 1
    rest: float = 20.0
    steps: TempoSteps | None = None


class Onset(NamedTuple):
    """A press of a hand's key: when it was stamped, and where that lies on the take clock as far as is known."""

    hand: str
    stamp: float
    time: float


@dataclass(frozen=True, eq=False)
class Session:
    """The state of a practice.

    Parameters
    ----------
    plan : Plan
        Of the take that runs or comes next.
    way : Way
    hands : tuple of str
        Those that have a key; none where somebody or something else observes.
    keys : tuple of (hand, key)
        As far as they are known.
    stage : Stage
    since : float
        Stamp at which the stage began.
    now : float
        The newest stamp.
    position : float
        The newest time; NaN while nothing plays.
    prepared : bool
        Whether the samples of the next take are there.
    started : bool
        Whether they were handed to the player.
    onsets : tuple of Onset
        Of this take, in the order in which they came.
    sentence : str
        What she has to know now; empty while all is well.
    can_resume : bool
        Whether a paused take can go on.
    how_ended : str
        ``"passage"`` or ``"enter"``.
    stopped : float or None
        Time at which Enter ended the take.
    number : int
        Of this take, from 1.
    results : tuple of bool
        Which of the takes so far were good ones, the newest last.
    tempo_bpm : float
        Of the take that runs or comes next.
    step_words : str
        What the rule for the tempo said after the last take.
    """

    plan: Plan
    way: Way = field(default_factory=Way)
    hands: tuple[str, ...] = ()
    keys: tuple[tuple[str, str], ...] = ()
    stage: Stage = Stage.ASKING
    since: float = 0.0
    now: float = 0.0
    position: float = math.nan
    prepared: bool = False
    started: bool = False
    onsets: tuple[Onset, ...] = ()
    sentence: str = ""
    can_resume: bool = False
    how_ended: str = ""
    stopped: float | None = None
    number: int = 1
    results: tuple[bool, ...] = ()
    tempo_bpm: float = 0.0
    step_words: str = ""

    @property
    def asked_hand(self) -> str | None:
        """The hand whose key is asked for."""
        known = {hand for hand, _ in self.keys}
        return next((hand for hand in self.hands if hand not in known), None)

    @property
    def left(self) -> float:
        """Seconds until walking in or resting is over; 0 in every other stage."""
        length = {Stage.WALKING: self.way.ready, Stage.RESTING: self.way.rest}.get(self.stage, 0.0)
        return max(0.0, length - (self.now - self.since)) if length else 0.0

    def hand_of(self, key: str) -> str | None:
        """Return the hand that a key belongs to."""
        return next((hand for hand, mine in self.keys if mine == key), None)


Next: TypeAlias = tuple[Session, tuple[Order, ...]]


def begin(
    plan: Plan,
    *,
    stamp: float,
    way: Way | None = None,
    hands: tuple[str, ...] | None = None,
    keys: str = "",
    at_once: bool = False,
    tempo_bpm: float | None = None,
) -> Next:
    """Return the first state of a practice.

    Parameters
    ----------
    plan : Plan
    stamp : float
    way : Way or None
    hands : tuple of str or None
        Those that get a key; by default all of the plan.
    keys : str
        One character for each of the first hands, so that they are not asked for.
    at_once : bool
        Whether to start without waiting for Enter.
    tempo_bpm : float or None
        Of the first take; by default the plan's, where there is no music.

    Raises
    ------
    ValueError
        If there are more keys than hands, or one twice.
    """
    hands = plan.hands if hands is None else hands
    if len(keys) > len(hands) or len(set(keys.lower())) < len(keys):
        raise ValueError(f"keys: expected at most {len(hands)} different ones, got {keys!r}")
    session = Session(
        plan=plan,
        way=way or Way(),
        hands=hands,
        keys=tuple(zip(hands, keys.lower(), strict=False)),
        since=stamp,
        now=stamp,
        tempo_bpm=(plan.tempo_bpm or 0.0) if tempo_bpm is None else tempo_bpm,
    )
    orders: tuple[Order, ...] = (Order.PREPARE,)
    if session.asked_hand is None:
        session = _enter(session, Stage.WAITING)
        if at_once:
            session, more = _walk_in(session)
            orders += more
    return session, orders


def step(session: Session, event: Event) -> Next:
    """Return the state after an event, and what has to be done outside.

    Parameters
    ----------
    session : Session
    event : Event

    Returns
    -------
    (Session, tuple of Order)
        The state is the same object where nothing changed.
    """
    match event:
        case Tick():
            return _tick(session, event)
        case Pressed():
            return _press(session, event)
        case Entered():
            return _press_enter(replace(session, now=event.stamp), event)
        case Prepared():
            ready = replace(session, plan=event.plan, prepared=True)
            return _open_if_prepared(ready) if session.stage is Stage.OPENING else (ready, ())
        case Judged():
            return _judged(session, event)
        case Leave():
            return _enter(session, Stage.LEFT), (Order.LEAVE,)
        case _:
            return _hear(session, event)


def usual_keys(hands: tuple[str, ...], known: tuple[tuple[str, str], ...] = ()) -> tuple[tuple[str, str], ...]:
    """Return a key for each hand: those that are known, the forefingers' ones, then any that is free."""
    keys = dict(known)
    for hand in hands:
        if hand not in keys:
            wanted = (USUAL_KEYS[hand],) if hand in USUAL_KEYS else ()
            keys[hand] = next(key for key in (*wanted, *SPARE_KEYS) if key not in keys.values())
    return tuple((hand, keys[hand]) for hand in hands)


def can_be_a_hand(key: str) -> bool:
    """Whether a key may be a hand's: no key that leads through the screens, none that is held with another."""
    held_with_another = key.startswith(("ctrl+", "alt+", "shift+", "super+", "meta+"))
    return key not in RESERVED_KEYS and not held_with_another and (len(key) == 1 or key in NAMED_KEYS)


def _enter(session: Session, stage: Stage) -> Session:
    return replace(session, stage=stage, since=session.now)


def _tick(session: Session, event: Tick) -> Next:
    session = replace(session, now=event.stamp, position=event.time)
    if session.stage is Stage.WALKING and session.left <= 0:
        return _open(session)
    if session.stage is Stage.RESTING and session.left <= 0:
        return _next_take(session)
    return session, ()


def _press(session: Session, event: Pressed) -> Next:
    key = event.key.lower() if len(event.key) == 1 else event.key
    if session.stage is Stage.ASKING:
        return _take_key(replace(session, now=event.stamp), key), ()
    hand = session.hand_of(key)
    if session.stage is Stage.PLAYING and hand is not None:
        onset = Onset(hand, event.stamp, event.time)
        return replace(session, onsets=(*session.onsets, onset)), (Order.KEEP,)
    if session.stage is Stage.PAUSED and session.can_resume and (hand is not None or key == "space"):
        return replace(_enter(session, Stage.OPENING), sentence="", can_resume=False), (Order.RESUME,)
    return session, ()


def _take_key(session: Session, key: str) -> Session:
    hand = session.asked_hand
    if hand is None or not can_be_a_hand(key):
        return replace(session, sentence="That key leads through the screens: take another one.")
    taken = session.hand_of(key)
    if taken is not None:
        return replace(session, sentence=f"That is the key for {taken} already: take another one.")
    session = replace(session, keys=(*session.keys, (hand, key)), sentence="")
    return session if session.asked_hand else _enter(session, Stage.WAITING)


def _press_enter(session: Session, event: Entered) -> Next:
    match session.stage:
        case Stage.ASKING:
            return _walk_in(replace(session, keys=usual_keys(session.hands, session.keys), sentence=""))
        case Stage.WAITING:
            return _walk_in(session)
        case Stage.WALKING:
            return _open(session)
        case Stage.PLAYING if session.now - session.since < JUST_BEGUN:
            return session, ()
        case Stage.PLAYING | Stage.PAUSED:
            return _end(session, how="enter", stopped=event.time)
        case Stage.RESTING:
            return _enter(session, Stage.AFTER), ()
        case Stage.AFTER:
            return _next_take(session)
        case _:
            return session, ()


def _walk_in(session: Session) -> Next:
    return (_enter(session, Stage.WALKING), (Order.WALK,)) if session.way.ready > 0 else _open(session)


def _open(session: Session) -> Next:
    return _open_if_prepared(replace(_enter(session, Stage.OPENING), started=False))


def _open_if_prepared(session: Session) -> Next:
    if not session.prepared:
        return session, ()
    fresh = replace(session, prepared=False, started=True, onsets=(), how_ended="", stopped=None, position=math.nan)
    return fresh, (Order.PLAY,)


def _hear(session: Session, event: Began | Broke | Back | Noted | Finished) -> Next:
    stage = session.stage
    if isinstance(event, Began) and stage is Stage.OPENING:
        return replace(_enter(session, Stage.PLAYING), sentence=""), ()
    if isinstance(event, Broke) and stage is Stage.OPENING and not session.onsets:
        return replace(session, sentence=event.sentence), (Order.PLAY_SILENTLY,)
    if isinstance(event, Broke) and stage in (Stage.OPENING, Stage.PLAYING):
        return replace(_enter(session, Stage.PAUSED), sentence=event.sentence, can_resume=False), ()
    if isinstance(event, Back) and stage is Stage.PAUSED:
        return replace(session, sentence=event.sentence, can_resume=True), ()
    if isinstance(event, Noted) and event.sentence:
        return replace(session, sentence=event.sentence), ()
    if isinstance(event, Finished) and stage is Stage.PLAYING:
        return _end(session, how="passage", stopped=math.nan)
    return session, ()


def _end(session: Session, *, how: str, stopped: float) -> Next:
    early = how == "enter" and not stopped >= session.plan.duration
    at = None if not early else session.position if math.isnan(stopped) else stopped
    if at is not None and math.isnan(at):
        at = 0.0
    return replace(_enter(session, Stage.JUDGING), how_ended=how, stopped=at, sentence=""), (Order.END,)


def _judged(session: Session, event: Judged) -> Next:
    """The take is over: rest and do the next one by itself, or stay with the scorecard."""
    session = replace(session, results=(*session.results, event.good))
    if session.way.steps is not None and session.tempo_bpm:
        tempo, words = session.way.steps.after(session.tempo_bpm, session.results)
        results = session.results if tempo == session.tempo_bpm else ()
        session = replace(session, tempo_bpm=tempo, step_words=words, results=results)
    more = session.number < session.way.takes
    return _enter(session, Stage.RESTING if more else Stage.AFTER), (Order.SAY, Order.PREPARE)


def _next_take(session: Session) -> Next:
    return _walk_in(replace(session, number=session.number + 1))
