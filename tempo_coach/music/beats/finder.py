"""Beats of a sound, each with a confidence; pauses, and the low-confidence places that a coach should look at."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from tempo_coach.errors import CoachError
from tempo_coach.music.beats.bar_search import Numbered
from tempo_coach.music.beats.decode import decode
from tempo_coach.music.beats.doubts import find_doubts, name_breaks
from tempo_coach.music.beats.downbeats import find_bars, one_strength
from tempo_coach.music.beats.evidence import gather_evidence
from tempo_coach.music.beats.features import FRAME_HZ, hear
from tempo_coach.music.beats.hints import find_plainer_tempo, find_unheard_hints, goes_at
from tempo_coach.music.beats.metrical_level import feel_pulse, find_other_level, is_half_of_what_is_counted
from tempo_coach.music.beats.network import TEMPI
from tempo_coach.music.beats.tapped import follow_taps, median_intervals
from tempo_coach.music.beats.tempo import HINTS_BPM, INTERVALS, make_tempo_prior, rest_on_hint
from tempo_coach.music.beats.unsure import find_unsure
from tempo_coach.music.files.sound import choose_uncancelled
from tempo_coach.share_done import part_of
from tempo_coach.times import Floats, Ints, ascending, column, whole

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import ArrayLike, NDArray

    from tempo_coach.music.beats.decode import Decoded
    from tempo_coach.music.beats.evidence import Evidence
    from tempo_coach.music.beats.features import Features
    from tempo_coach.music.beats.scoring import Scoring
    from tempo_coach.music.files.sound import Sound
    from tempo_coach.reasons import Reason


class Rest(NamedTuple):
    """A pause in seconds: from the last beat before it to the first beat after it."""

    start: float
    end: float


class Doubt(NamedTuple):
    """A low-confidence place in seconds with its reason, and its end where it is a stretch."""

    time: float
    reason: Reason
    end: float | None = None


@dataclass(frozen=True, eq=False)
class Beats:
    """Beats of a piece of music.

    Parameters
    ----------
    times : array_like, shape (n,)
        Seconds, strictly ascending.
    bar : array_like, shape (n,)
        Position in the bar, 1 is its first beat.
    confidence : array_like, shape (n,)
        0 to 1, from the score lost by the best sequence of beats without this one.
    rests : tuple of Rest
        Pauses, in order.
    doubtful : tuple of Doubt
        Places to look at, in order.
    duration : float
        Length of the sound in seconds.
    eights : tuple of (start, length)
        Index of the beat that begins each eight, and its counts; none where only bars are known.

    Raises
    ------
    ValueError
        If the columns do not fit together.
    """

    times: Floats
    bar: Ints
    confidence: Floats
    rests: tuple[Rest, ...]
    doubtful: tuple[Doubt, ...]
    duration: float
    eights: tuple[tuple[int, int], ...] = ()

    def __post_init__(self) -> None:
        put = object.__setattr__
        put(self, "times", ascending(self.times, name="times", strict=True))
        put(self, "bar", whole(self.bar, name="bar"))
        put(self, "confidence", column(self.confidence, name="confidence"))
        put(self, "rests", tuple(Rest(*rest) for rest in self.rests))
        put(self, "doubtful", tuple(Doubt(*doubt) for doubt in self.doubtful))
        if not self.times.shape == self.bar.shape == self.confidence.shape:
            raise ValueError("times, bar and confidence: expected one length")
        if self.bar.size and self.bar.min() < 1:
            raise ValueError("bar: expected positions from 1")
        if self.confidence.size and not 0 <= self.confidence.min() <= self.confidence.max() <= 1:
            raise ValueError("confidence: expected 0 to 1")

    @property
    def tempo_bpm(self) -> float:
        """Median tempo in beats a minute, pauses left out."""
        steps = np.diff(self.times)
        resting = np.isin(self.times[:-1], [rest.start for rest in self.rests])
        return float(60 / np.median(steps[~resting]))


def find_beats(
    sound: Sound,
    *,
    tempo_bpm: float | None = None,
    meter: int | None = None,
    one_at: float | None = None,
    taps: ArrayLike | None = None,
    use_network: bool = True,
    progress: Callable[[float], None] | None = None,
    warn: Callable[[CoachError], None] | None = None,
) -> Beats:
    """Find the beats of a sound.

    Parameters
    ----------
    sound : Sound
    tempo_bpm : float or None
        A hint, right within 6 %, that decides which of several possible levels is counted.
    meter : int or None
        Beats a bar, where it is known.
    one_at : float or None
        Seconds at which a bar is known to begin; the nearest beat is taken.
    taps : array_like, shape (m,), or None
        Seconds at which a person tapped along once: they decide where beats are, the music puts them right.
    use_network : bool
        Whether the network is asked; without it, or without its weights, onsets alone decide.
    progress : callable or None
        Is given the part that is done, 0 to 1.
    warn : callable or None
        Is told where the network's weights cannot be had, and of a hint that the music does not bear out.

    Returns
    -------
    Beats

    Raises
    ------
    CoachError
        If the music has no beat, or the tempo is none that people count.
    """
    slowest, fastest = HINTS_BPM
    if tempo_bpm is not None and not slowest <= tempo_bpm <= fastest:
        raise CoachError(
            "tempo.out_of_range",
            where="--tempo",
            slowest_bpm=slowest,
            fastest_bpm=fastest,
            tempo_bpm=tempo_bpm,
        )
    if meter is not None and not 2 <= meter <= 12:
        raise CoachError("meter.out_of_range", where="--meter", meter=meter)
    sound = choose_uncancelled(sound)
    if taps is not None:
        found = _follow_taps(taps, hear(sound, progress=progress))
    else:
        evidence = gather_evidence(
            sound, use_network=use_network, progress=part_of(progress, 0.0, _GATHERED), warn=warn
        )
        found = _search(evidence, tempo_bpm, meter)
    if progress is not None:
        progress(1.0)
    one = int(np.abs(found.times - one_at).argmin()) if one_at is not None else None
    bar, eights = found.number(meter=meter, one=one)
    if warn is not None and taps is None:
        for problem in find_unheard_hints(
            found.times, bar, tempo_bpm=tempo_bpm, meter=meter, rather_bpm=found.rather_bpm
        ):
            warn(problem)
    doubts = find_doubts(found.times, found.confidence, found.rests, level=found.level, unsure=found.unsure)
    doubtful = tuple(Doubt(*each) for each in name_breaks(doubts, found.times, found.rests, sound))
    return Beats(found.times, bar, found.confidence, found.rests, doubtful, sound.duration, eights)


#: Part of the work that gathering evidence is.
_GATHERED = 0.8


class _Found(NamedTuple):
    """Beats from taps or from evidence.

    ``number`` gives bars and eights; ``level`` is 2, 1/2, 3/2 or 2/3 where that many times the tempo fits
    as well, ``unsure`` what the network hears hardly; ``rather_bpm`` is the tempo at which the music is heard to go
    where a hint led to beats that are hardly heard.
    """

    times: Floats
    confidence: Floats
    rests: tuple[Rest, ...]
    number: Callable[..., Numbered]
    level: float | None
    unsure: NDArray[np.bool_] | None = None
    rather_bpm: float | None = None


def _follow_taps(taps: ArrayLike, features: Features) -> _Found:
    followed = follow_taps(taps, features.fine, duration=features.duration)
    times, kept = _in_order(followed.times)
    rests = tuple(Rest(times[k - 1], times[k]) for k in np.flatnonzero(followed.after_pause[kept]) if k > 0)
    confidence = np.where(followed.tapped, 0.5 + 0.5 * followed.sure, followed.sure)[kept]
    return _Found(times, confidence, rests, partial(_number_by_accent, times, features), None)


def _number_by_accent(times: Floats, features: Features, *, meter: int | None, one: int | None) -> Numbered:
    return Numbered(find_bars(one_strength(times, features), meter=meter, one=one))


def _search(evidence: Evidence, tempo_bpm: float | None = None, meter: int | None = None) -> _Found:
    plain = found = _go_on(evidence, _decode(evidence, None))
    hinted = tempo_bpm is not None
    if tempo_bpm is None:
        tempo_bpm = _count_at(evidence, found, meter)
    if tempo_bpm is not None and not goes_at(found, tempo_bpm):
        found = _decode(evidence, tempo_bpm)
    if len(found.frames) < 4:
        raise CoachError("beats.not_found")
    rather_bpm = None
    if hinted and found is not plain:
        other_level = _feel_other_level(evidence, _in_order(evidence.place(plain.frames))[0])
        rather_bpm = find_plainer_tempo(evidence.beat, plain, found, other_level=other_level)
    times, kept = _in_order(evidence.place(found.frames))
    rests = _find_rests(times, found.after_rest[kept])
    confidence = 1 - np.exp(-found.margin[kept] / evidence.scoring.sure)
    level = unsure = None
    if tempo_bpm is None and evidence.heard is not None:
        level = _feel_other_level(evidence, times)
    elif tempo_bpm is None:
        level = _other_level(found.rivals[kept], found.intervals[kept], evidence.scoring)
    if evidence.heard is not None:
        unsure = find_unsure(times, confidence, evidence.heard, other_level=level is not None)
    return _Found(
        times,
        confidence,
        rests,
        partial(evidence.number, times, np.isin(times, [rest.end for rest in rests])),
        level,
        unsure,
        rather_bpm,
    )


def _feel_other_level(evidence: Evidence, times: Floats) -> float | None:
    """Return how many times the tempo of these beats fits the music as well, None where none does."""
    pulse = feel_pulse(times, evidence.heard, evidence.fine) if evidence.heard is not None else None
    return find_other_level(pulse) if pulse is not None else None


#: Part of the music up to which beats cover little of it, intervals from which on they have a tempo of their own, and
#: the probability from which the network's does instead.
_LITTLE, _OWN_TEMPO, _SURE_TEMPO = 0.66, 8, 0.5


def _go_on(evidence: Evidence, found: Decoded) -> Decoded:
    """Return beats extended at their own tempo where the tempo prior would have made most of the music a rest.

    Far from the prior a beat's score is less than the 0 of a rest, however well it is heard.
    """
    steps = np.diff(found.frames)[~found.after_rest[1:]]
    if evidence.heard is None or steps.sum() >= _LITTLE * len(evidence.beat):
        return found
    bpm = 60 * FRAME_HZ / float(np.median(steps)) if len(steps) >= _OWN_TEMPO else 0.0
    if not bpm:
        likely = (np.abs(np.log2(TEMPI / TEMPI[:, None])) < _SAME_TEMPO) @ evidence.heard.tempo.mean(axis=0)
        if likely.max() < _SURE_TEMPO:
            return found
        bpm = float(TEMPI[likely.argmax()])
    more = _decode(evidence, bpm)
    return more if np.diff(more.frames)[~more.after_rest[1:]].sum() > steps.sum() else found


#: Octaves within which tempi are one.
_SAME_TEMPO = 0.1


def _decode(evidence: Evidence, hint_bpm: float | None) -> Decoded:
    scoring = evidence.scoring
    prior = make_tempo_prior(hint_bpm, prior_bpm=scoring.prior_bpm, octaves=scoring.octaves)
    tempo = evidence.tempo if hint_bpm is None else rest_on_hint(evidence.tempo, hint_bpm)
    return decode(evidence.beat, tempo, prior, scoring)


#: Share of bars of two from which three named beats a bar are quicker ones (6/8 heard for 3/4), and the quickest that
#: come of it (beats a minute).
_IN_TWO, _QUICKEST_BPM = 0.8, 160.0


def _count_at(evidence: Evidence, found: Decoded, meter: int | None) -> float | None:
    """Return the tempo at which these beats should be counted where their bars suggest another level, else None."""
    if evidence.heard is None or len(found.frames) < 4:
        return None
    times, kept = _in_order(evidence.place(found.frames))
    bpm = 60 / float(np.median(np.diff(times)))
    pulse = feel_pulse(times, evidence.heard, evidence.fine)
    if pulse is not None and is_half_of_what_is_counted(pulse):
        return 2 * bpm
    if meter == 3 and 1.5 * bpm <= _QUICKEST_BPM:
        bar = evidence.number(times, found.after_rest[kept], meter=None, one=None).bar
        lengths = bar[:-1][bar[1:] == 1]
        if len(lengths) and np.mean(lengths == 2) >= _IN_TWO:
            return 1.5 * bpm
    return None


#: Part of the beats at which another level has to lose so little.
_MOSTLY = 0.5


def _other_level(rivals: np.ndarray, intervals: np.ndarray, scoring: Scoring) -> float | None:
    """Return 2 or 0.5 where that level costs less than two jumps at most beats, so that the tempo is ambiguous."""
    close = []
    for ratio in (0.5, 2.0):
        near = np.abs(np.log(INTERVALS / (ratio * intervals[:, None]))) < 0.06
        close.append(np.where(near, rivals, np.inf).min(axis=1) < 2 * scoring.jump)
    share = np.mean(close, axis=1)
    return (2.0, 0.5)[int(share.argmax())] if share.max() >= _MOSTLY else None


#: A gap shorter than this many beats is a beat that comes late, not a rest.
_REST_BEATS = 1.6


def _find_rests(times: Floats, after_rest: np.ndarray) -> tuple[Rest, ...]:
    """Return the pauses: decoded rests longer than the intervals around them."""
    steps = np.diff(times)
    median = median_intervals(times)
    long = [k for k in range(len(steps)) if after_rest[k + 1] and steps[k] > _REST_BEATS * median[k]]
    return tuple(Rest(times[k], times[k + 1]) for k in long)


def _in_order(times: Floats) -> tuple[Floats, Ints]:
    """Return ascending times and their indices, without beats that refinement moved onto a neighbour."""
    kept = [0]
    for place in range(1, len(times)):
        if times[place] > times[kept[-1]] + 0.1:
            kept.append(place)
    return times[kept], np.array(kept)
