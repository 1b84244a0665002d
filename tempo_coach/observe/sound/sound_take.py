"""The take of a recording: its onsets assigned to the hands of a plan, on the take clock."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from tempo_coach.errors import CoachError
from tempo_coach.music.files.sound import Sound
from tempo_coach.observe.sound.alignment import align
from tempo_coach.observe.sound.detector import calibrate_detector, find_onsets
from tempo_coach.observe.sound.residual import refine_line, to_wave
from tempo_coach.observe.take.clock import ClockLine
from tempo_coach.observe.take.onsets import Onsets, Take
from tempo_coach.observe.trace.trace_take import keep_moments
from tempo_coach.reasons import Reason, Why

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from numpy.typing import NDArray

    from tempo_coach.observe.sound.kinds import Detector
    from tempo_coach.pattern.plan.plan import Plan
    from tempo_coach.reasons import Warn
    from tempo_coach.times import Floats

#: Margin of the recording before the take clock begins and after the last moment (s).
AROUND = 2.0
#: Margin around a hand's moments in median steps: onsets further outside are no part of the take.
OUTSIDE = 0.5
#: Moments of two hands this close (s) sound as one: one sound answers both.
TOGETHER = 0.03
#: Seconds that a quiet or a sample has to last.
LEAST_STRETCH = 0.3


class Recording(NamedTuple):
    """A recorded sound, the time of its first sample on its own clock, and its name for messages."""

    sound: Sound
    begin: float
    where: str


class HeardTake(NamedTuple):
    """A take from a recording, and the level of each onset; None where nobody else was near."""

    take: Take
    loudness: Floats | None


def align_recording(
    recording: Recording,
    played: Sound,
    *,
    clap: tuple[float, float] | None = None,
    progress: Callable[[float], None] | None = None,
) -> ClockLine:
    """Align a recording's clock with that of the played sound, by the music in it or by a clap.

    A clap that was read by eye is off by some hundredths of a second: where the music is heard near there, it decides.

    Parameters
    ----------
    recording : Recording
    played : Sound
        What was played meanwhile: the music at its speed, with its cues.
    clap : (on recording, on take) or None
        Seconds at which both clocks saw one event; None takes the sound.
    progress : callable or None

    Raises
    ------
    CoachError
        If what was played is not surely found in it.
    """
    if clap is not None:
        said = ClockLine(clap[0] - recording.begin, clap[1], 1.0, float("nan"), 1)
        line = refine_line(to_wave(recording.sound), Sound(played.mono()[:, np.newaxis], played.rate_hz), said)
        return ClockLine(line.origin + recording.begin, line.offset, line.rate, line.residual_sd, line.n)
    return align(recording.sound, played, begin=recording.begin, where=recording.where, progress=progress).line


def calibrate_from(
    recording: Recording, detector: Detector, quiet: tuple[float, float], sample: tuple[float, float]
) -> Detector:
    """Calibrate a detector on two segments of a recording, before the music begins.

    Parameters
    ----------
    recording : Recording
    detector : Detector
    quiet, sample : (float, float)
        Seconds on the recording's clock: a segment of noise, and one with a few of the sounds.

    Raises
    ------
    CoachError
        If a stretch is too short or the sample does not stand out.
    """
    parts = [_cut(recording, *stretch) for stretch in (quiet, sample)]
    for name, stretch, part in zip(("--quiet", "--sample"), (quiet, sample), parts, strict=True):
        if part.sound.duration < LEAST_STRETCH:
            raise CoachError(
                "sample.too_short",
                where=name,
                least_s=LEAST_STRETCH,
                recording=recording.where,
                start_s=stretch[0],
                end_s=stretch[1],
                duration_s=recording.sound.duration,
            )
    calibrated = calibrate_detector(detector, parts[0].sound, parts[1].sound)
    if calibrated is None:
        raise CoachError("sample.not_clear", where=recording.where)
    return calibrated


def hear_take(
    recording: Recording,
    plan: Plan,
    detector: Detector,
    line: ClockLine,
    *,
    played: Sound | None = None,
    hands: Sequence[str] = (),
    warn: Warn | None = None,
) -> HeardTake:
    """Return the take that was heard in a recording.

    The onset of each sound is put earlier by its kind's own delay; its spread is the take's noise floor.

    Parameters
    ----------
    recording : Recording
    plan : Plan
    detector : Detector
    line : ClockLine
        From the recording's clock to the take clock.
    played : Sound or None
        What was played meanwhile and may be heard in it, on the take clock.
    hands : sequence of str
        Those whose doing can be heard; by default all of the plan.
    warn : callable or None
        Told what was not recorded and what this way of observing adds.

    Raises
    ------
    CoachError
        If the recording holds nothing of the take, or nothing of that kind is heard in it.
    """
    plan = _only(plan, hands)
    first, last = float(plan.moments.time[0]), float(plan.moments.time[-1])
    begin = recording.begin
    start, end = (float(line.to_second(at)) for at in (begin, begin + recording.sound.duration))
    if end < first or start > last:
        raise CoachError(
            "recording.beside_take",
            where=recording.where,
            start_s=start,
            end_s=end,
            take_start_s=first,
            take_end_s=last,
        )
    part = _cut(recording, float(line.to_first(-AROUND)), float(line.to_first(last + AROUND)))
    moved = ClockLine(line.origin - part.begin, line.offset, line.rate, line.residual_sd, line.n)
    heard = find_onsets(part.sound, detector, played=played, line=None if played is None else moved)
    times = moved.to_second(heard.time) - detector.delay
    inside = (plan.moments.time >= start) & (plan.moments.time <= end)
    asked = replace(plan, moments=keep_moments(plan.moments, np.flatnonzero(inside)))
    onsets, both = assign_hands(times, asked)
    if not len(onsets):
        raise CoachError("recording.nothing_heard", where=recording.where, kind=detector.kind)
    if warn:
        if not inside.all():
            warn(Reason(Why.NOT_RECORDED, (int((~inside).sum()), len(inside))))
        if both:
            warn(Reason(Why.BOTH_HANDS, (both,)))
        delay_ms, spread_ms = 1000 * detector.delay, 1000 * detector.spread
        warn(Reason(Why.HEARD_BY, (detector.kind, detector.profile.onset, delay_ms, spread_ms)))
        warn(Reason(Why.SOUND_DELAYS))
    take = Take(asked, onsets, observed_by=detector.kind, noise_floor_ms=1000 * detector.spread)
    loud = heard.loudness
    return HeardTake(take, None if loud is None else loud[np.searchsorted(times, onsets.time)])


def assign_hands(times: Floats, plan: Plan) -> tuple[Onsets, int]:
    """Assign onsets to hands; return them, and the number that answer two hands.

    Each is assigned to the hand of the nearest moment, after removal of the median lateness; where two hands have a
    moment at once, one sound answers both. Onsets before and after the take are left out.

    Parameters
    ----------
    times : numpy.ndarray, shape (n,)
        Seconds on the take clock, ascending.
    plan : Plan
    """
    moments = plan.moments
    if not len(moments) or not len(times):
        return Onsets(np.zeros(0), ()), 0
    off = times[:, np.newaxis] - moments.time
    # the median lateness is that of the sounds during the take: before and after it no moment is near
    step = float(np.median(np.diff(np.unique(moments.time)))) if len(np.unique(moments.time)) > 1 else np.inf
    nearest = np.abs(off).argmin(axis=1)
    near = off[np.arange(len(times)), nearest]
    close = near[np.abs(near) <= step / 2]
    late = float(np.median(close)) if len(close) else 0.0
    nearest = np.abs(off - late).argmin(axis=1)
    rows: list[tuple[float, str]] = []
    both = 0
    for time, k in zip(times.tolist(), nearest.tolist(), strict=True):
        own = str(moments.hand[k])
        at_once = np.abs(moments.time - moments.time[k]) <= TOGETHER
        answered = [own, *sorted({str(moments.hand[j]) for j in np.flatnonzero(at_once)} - {own})]
        answered = [hand for hand in answered if _within_take(time - late, moments.time[moments.of_hand(hand)])]
        both += len(answered) > 1
        rows += [(time, hand) for hand in answered]
    return Onsets.unsorted([time for time, _ in rows], [hand for _, hand in rows]), both


def _within_take(time: float, asked: NDArray[np.float64]) -> bool:
    margin = OUTSIDE * float(np.median(np.diff(asked))) if len(asked) > 1 else np.inf
    return bool(asked[0] - margin < time < asked[-1] + margin)


def _only(plan: Plan, hands: Sequence[str]) -> Plan:
    """Return the plan with the moments of some hands only."""
    unknown = [hand for hand in hands if hand not in plan.hands]
    if unknown:
        raise CoachError("recording.other_hand", where="--of", hands=plan.hands, found=unknown[0])
    if not hands:
        return plan
    kept = [k for k, hand in enumerate(plan.moments.hand) if hand in hands]
    if not kept:
        raise CoachError("recording.nothing_asked", where="--of", hands=hands)
    return replace(plan, moments=keep_moments(plan.moments, np.array(kept)))


def _cut(recording: Recording, start: float, end: float) -> Recording:
    """Return a stretch of a recording, limited to its extent."""
    rate_hz, samples = recording.sound.rate_hz, recording.sound.samples
    first = min(max(round((start - recording.begin) * rate_hz), 0), len(samples))
    last = min(max(round((end - recording.begin) * rate_hz), first), len(samples))
    return Recording(Sound(samples[first:last], rate_hz), recording.begin + first / rate_hz, recording.where)
