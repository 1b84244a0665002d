"""The course of a practice as a pure state machine: its events, and ``step(session, event)``."""

from __future__ import annotations

import math
from dataclasses import replace
from enum import Enum, auto
from typing import TYPE_CHECKING, NamedTuple, TypeAlias

from tempo_coach.live.audio.playback import NewsKind
from tempo_coach.live.notices import Code, Notice, Trouble
from tempo_coach.live.practice.hand_keys import can_be_a_hand, default_keys
from tempo_coach.live.practice.session import Onset, PracticeState, Stage, Way

if TYPE_CHECKING:
    from tempo_coach.live.audio.playback import News
    from tempo_coach.pattern.plan.plan import Plan


class Tick(NamedTuple):
    """Event: time has passed."""

    stamp: float
    time: float = math.nan


class Pressed(NamedTuple):
    """Event: a key was pressed."""

    key: str
    stamp: float
    time: float = math.nan


class Observed(NamedTuple):
    """Event: a live source delivered an onset of a hand."""

    hand: str
    stamp: float
    time: float = math.nan


class Entered(NamedTuple):
    """Event: Enter was pressed."""

    stamp: float
    time: float = math.nan


class Prepared(NamedTuple):
    """Event: the samples of the next take are ready."""

    plan: Plan


class TempoAsked(NamedTuple):
    """Event: another tempo was chosen for the next take, in beats a minute."""

    tempo_bpm: float


class Began(NamedTuple):
    """Event: the first sample is about to be heard."""


class Broke(NamedTuple):
    """Event: the sound failed."""

    notice: Notice


class Back(NamedTuple):
    """Event: the sound can be resumed."""

    notice: Notice


class Noted(NamedTuple):
    """Event: something to be reported without a transition, such as a gap in the sound."""

    notice: Notice | None


class Finished(NamedTuple):
    """Event: the last sample was heard."""


class Judged(NamedTuple):
    """Event: the take was judged."""

    steady: bool


class Leave(NamedTuple):
    """Event: she wants to leave."""


Event: TypeAlias = (
    Tick
    | Pressed
    | Observed
    | Entered
    | TempoAsked
    | Prepared
    | Began
    | Broke
    | Back
    | Noted
    | Finished
    | Judged
    | Leave
)


#: Seconds after the first sample in which Enter ends nothing: whoever starts with it may press it twice.
JUST_BEGUN = 0.7


class Effect(Enum):
    """A side effect of a transition, to be carried out by the caller."""

    #: Make the samples of the next take, then say Prepared.
    PREPARE = auto()
    #: Let the seconds of walking in be heard.
    WALK = auto()
    #: Start the samples.
    PLAY = auto()
    #: Start them on a silent clock.
    PLAY_SILENTLY = auto()
    #: Go on where the sound broke off.
    RESUME = auto()
    #: Write the newest onset to the take's file.
    KEEP = auto()
    #: Fall silent, judge the take, then say Judged.
    END = auto()
    #: Say a few words about the take.
    SAY = auto()
    #: Close everything.
    LEAVE = auto()


Next: TypeAlias = tuple[PracticeState, tuple[Effect, ...]]


def event_of(news: News) -> Event:
    """Return the event that a player's news means to a practice."""
    match news.kind:
        case NewsKind.PLAYING:
            return Began()
        case NewsKind.PAUSED:
            return Broke(news.notice or Notice(Trouble.LOST))
        case NewsKind.BACK:
            return Back(news.notice or Notice(Code.BACK))
        case NewsKind.FINISHED:
            return Finished()
        case _:
            return Noted(news.notice)


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
    """Return the initial state of a practice.

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
    session = PracticeState(
        plan=plan,
        way=way or Way(),
        hands=hands,
        keys=tuple(zip(hands, keys.lower(), strict=False)),
        since=stamp,
        now=stamp,
        tempo_bpm=(plan.tempo_bpm or 0.0) if tempo_bpm is None else tempo_bpm,
    )
    effects: tuple[Effect, ...] = (Effect.PREPARE,)
    if session.asked_hand is None:
        session = _enter(session, Stage.WAITING)
        if at_once:
            session, more = _walk_in(session)
            effects += more
    return session, effects


def step(session: PracticeState, event: Event) -> Next:
    """Return the state after an event, and the effects of the transition.

    Parameters
    ----------
    session : PracticeState
    event : Event

    Returns
    -------
    (Session, tuple of Effect)
        The state is the same object where nothing changed.
    """
    match event:
        case Tick():
            return _tick(session, event)
        case Pressed():
            return _press(session, event)
        case Observed():
            return _observe(session, event)
        case Entered():
            return _press_enter(replace(session, now=event.stamp), event)
        case TempoAsked() if session.stage is Stage.AFTER and event.tempo_bpm != session.tempo_bpm:
            asked = event.tempo_bpm
            return replace(session, tempo_bpm=asked, tempo_asked=asked, prepared=False, results=()), (Effect.PREPARE,)
        case Prepared():
            ready = replace(session, plan=event.plan, prepared=True)
            return _open_if_prepared(ready) if session.stage is Stage.OPENING else (ready, ())
        case Judged():
            return _judged(session, event)
        case Leave():
            return _enter(session, Stage.LEFT), (Effect.LEAVE,)
        case TempoAsked():
            return session, ()
        case _:
            return _hear(session, event)


def _enter(session: PracticeState, stage: Stage) -> PracticeState:
    return replace(session, stage=stage, since=session.now)


def _tick(session: PracticeState, event: Tick) -> Next:
    session = replace(session, now=event.stamp, position=event.time)
    if session.stage is Stage.WALKING and session.left <= 0:
        return _open(session)
    if session.stage is Stage.RESTING and session.left <= 0:
        return _next_take(session)
    return session, ()


def _press(session: PracticeState, event: Pressed) -> Next:
    key = event.key.lower() if len(event.key) == 1 else event.key
    if session.stage is Stage.ASKING:
        return _take_key(replace(session, now=event.stamp), key), ()
    hand = session.hand_of(key)
    if session.stage is Stage.PLAYING and hand is not None:
        onset = Onset(hand, event.stamp, event.time)
        return replace(session, onsets=(*session.onsets, onset)), (Effect.KEEP,)
    if session.stage is Stage.OPENING and hand is not None:
        return replace(session, notice=Notice(Code.KEYS_TOO_SOON, (_too_soon(session) + 1,))), ()
    if session.stage is Stage.PAUSED and session.can_resume and (hand is not None or key == "space"):
        return replace(_enter(session, Stage.OPENING), notice=None, can_resume=False), (Effect.RESUME,)
    return session, ()


def _too_soon(session: PracticeState) -> int:
    """Return how many keys of hands were pressed before the sound began."""
    told = session.notice
    return int(str(told.arguments[0])) if told is not None and told.code is Code.KEYS_TOO_SOON else 0


def _observe(session: PracticeState, event: Observed) -> Next:
    if session.stage is not Stage.PLAYING or event.hand not in session.plan.hands:
        return session, ()
    return replace(session, onsets=(*session.onsets, Onset(event.hand, event.stamp, event.time))), (Effect.KEEP,)


def _take_key(session: PracticeState, key: str) -> PracticeState:
    hand = session.asked_hand
    if hand is None or not can_be_a_hand(key):
        return replace(session, notice=Notice(Code.KEY_LEADS))
    taken = session.hand_of(key)
    if taken is not None:
        return replace(session, notice=Notice(Code.KEY_TAKEN, (taken,)))
    session = replace(session, keys=(*session.keys, (hand, key)), notice=None)
    return session if session.asked_hand else _enter(session, Stage.WAITING)


def _press_enter(session: PracticeState, event: Entered) -> Next:
    match session.stage:
        case Stage.ASKING:
            return _walk_in(replace(session, keys=default_keys(session.hands, session.keys), notice=None))
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


def _walk_in(session: PracticeState) -> Next:
    return (_enter(session, Stage.WALKING), (Effect.WALK,)) if session.way.ready > 0 else _open(session)


def _open(session: PracticeState) -> Next:
    return _open_if_prepared(replace(_enter(session, Stage.OPENING), started=False))


def _open_if_prepared(session: PracticeState) -> Next:
    if not session.prepared:
        return session, ()
    fresh = replace(session, prepared=False, started=True, onsets=(), how_ended="", stopped=None, position=math.nan)
    return fresh, (Effect.PLAY,)


def _hear(session: PracticeState, event: Began | Broke | Back | Noted | Finished) -> Next:
    stage = session.stage
    if isinstance(event, Began) and stage is Stage.OPENING:
        return replace(_enter(session, Stage.PLAYING), notice=session.notice if _too_soon(session) else None), ()
    if isinstance(event, Broke) and stage is Stage.OPENING and not session.onsets:
        return replace(session, notice=event.notice), (Effect.PLAY_SILENTLY,)
    if isinstance(event, Broke) and stage in (Stage.OPENING, Stage.PLAYING):
        return replace(_enter(session, Stage.PAUSED), notice=event.notice, can_resume=False), ()
    if isinstance(event, Back) and stage is Stage.PAUSED:
        return replace(session, notice=event.notice, can_resume=True), ()
    if isinstance(event, Noted) and event.notice:
        return replace(session, notice=event.notice), ()
    if isinstance(event, Finished) and stage is Stage.PLAYING:
        return _end(session, how="passage", stopped=math.nan)
    return session, ()


def _end(session: PracticeState, *, how: str, stopped: float) -> Next:
    early = how == "enter" and not stopped >= session.plan.duration
    at = None if not early else session.position if math.isnan(stopped) else stopped
    if at is not None and math.isnan(at):
        at = 0.0
    return replace(_enter(session, Stage.JUDGING), how_ended=how, stopped=at, notice=None), (Effect.END,)


def _judged(session: PracticeState, event: Judged) -> Next:
    """Return the state after a take: rest before the next one, or stay with the scorecard."""
    session = replace(session, results=(*session.results, event.steady))
    if session.way.steps is not None and session.tempo_bpm:
        moved = session.way.steps.after(session.tempo_bpm, session.results)
        results = session.results if moved.tempo_bpm == session.tempo_bpm else ()
        session = replace(session, tempo_bpm=moved.tempo_bpm, tempo_step=moved, results=results)
    more = session.number < session.way.takes
    return _enter(session, Stage.RESTING if more else Stage.AFTER), (Effect.SAY, Effect.PREPARE)


def _next_take(session: PracticeState) -> Next:
    return _walk_in(replace(session, number=session.number + 1, tempo_asked=None))
