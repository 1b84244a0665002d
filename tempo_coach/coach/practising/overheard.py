"""The microphone's recording of a take: kept beside it, and her contacts or her voice read from it."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from tempo_coach import coach
from tempo_coach.coach.practising.practice import write_beside
from tempo_coach.errors import CoachError
from tempo_coach.music.files.sound import Sound
from tempo_coach.music.files.sound_file import write_sound
from tempo_coach.observe.take.clock import ClockLine
from tempo_coach.observe.take.take_file import ENDING
from tempo_coach.reasons import Reason, Why

if TYPE_CHECKING:
    from collections.abc import Iterable
    from pathlib import Path

    from tempo_coach.coach.notices import News
    from tempo_coach.coach.practising.practice import FinishedTake
    from tempo_coach.live.audio.playback import Player
    from tempo_coach.observe.observers import ObservedBy

#: The recording lies on the take clock already: its way through loudspeaker, air and microphone is taken out.
ON_TAKE_CLOCK = ClockLine(0.0, 0.0, 1.0, float("nan"), 1)


def keep_recording(
    played: Sound, player: Player, done: FinishedTake, *, kind: ObservedBy | None = None
) -> FinishedTake:
    """Write the microphone's recording beside a take, from take time 0 on, and detect the take in it.

    Parameters
    ----------
    played : Sound
        Music and cues as they were played.
    done : FinishedTake
        The take as it was practised.
    kind : str or None
        What is listened for; None only writes.

    Returns
    -------
    FinishedTake
        The take as it was heard, or as it was practised with what the person has to know.
    """
    from tempo_coach.live.audio.engine import Engine
    from tempo_coach.live.inputs.microphone import align

    if not isinstance(player, Engine) or not player.recorded:
        return _with(done, Reason(Why.NOTHING_RECORDED))
    loop = player.reported_loop if done.setup.loop is None else done.setup.loop
    samples, known, changes = align(player.recorded, played.samples.mean(axis=1), otherwise=loop)
    recording = Sound(samples[:, None], played.rate_hz)
    path = None if done.path is None else done.path.with_name(f"{done.path.name.removesuffix(ENDING)}.wav")
    try:
        if path is not None:
            write_sound(path, recording)
    except CoachError as error:
        done = _with(done, Reason(Why.RECORDING_UNWRITTEN, (error,)))
    except OSError as error:
        done = _with(done, Reason(Why.RECORDING_UNWRITTEN, (error.strerror,)))
    if not known:
        done = _with(done, Reason(Why.PLAYED_NOT_HEARD, (path and path.name,)))
    delayed = [each for each in changes if each.rate == 1]
    for change in delayed[:1]:
        total = sum(each.by for each in delayed)
        done = _with(done, Reason(Why.LOOP_CHANGED, (1000 * total, change.start, delayed[-1].end)))
    for change in changes:
        if change.rate != 1:
            plays_hz = round(change.rate * played.rate_hz)
            done = _with(
                done, Reason(Why.OTHER_RATE_HEARD, (max(change.start, 0.0), change.end, plays_hz, played.rate_hz))
            )
    if kind is None:
        return done
    return overhear(recording, played, done, kind=kind, path=path, changes=[(each.start, each.end) for each in changes])


def overhear(
    recording: Sound,
    played: Sound,
    done: FinishedTake,
    *,
    kind: ObservedBy,
    path: Path | None,
    changes: Iterable[tuple[float, float]] = (),
) -> FinishedTake:
    """Return a take as detected in the microphone's recording, in a file of its own.

    Parameters
    ----------
    recording, played : Sound
        Both with their first sample at take time 0.
    path : Path or None
        The recording's file; None where it is not kept.
    changes : iterable of (start, end)
        Take times between which the way of the sound changed, or its rate: nothing is judged there.

    Returns
    -------
    FinishedTake
        The take as it was practised, with the reason, where nothing of that kind is heard.
    """
    from tempo_coach.observe.sound.kinds import make_detector
    from tempo_coach.observe.sound.sound_take import Recording, hear_take

    try:
        heard = hear_take(
            Recording(recording, 0.0, "the microphone"),
            done.take.plan,
            make_detector(kind),
            ON_TAKE_CLOCK,
            played=played,
        ).take
    except CoachError as error:
        return _with(done, error)
    # what was lost of the sound could not be followed in it either
    take = replace(heard, unmeasurable=tuple(sorted([*done.take.unmeasurable, *changes])))
    found = replace(done, take=take, card=coach.judge_take(take))
    extra = {} if path is None else {"recording": str(path.resolve())}
    return write_beside(found, how=take.observed_by, extra=extra)


def _with(done: FinishedTake, news: News) -> FinishedTake:
    return replace(done, told=(*done.told, news))
