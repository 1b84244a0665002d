"""The main job once on invented data: a piece of music and a gymnast's onsets, both made up here.

The music is our own: a small tune in four for plucked strings, bass and drum, with a slowing towards its
middle, a pause, and a bridge back. The gymnast is invented too: a natural scatter, one long cycle, one late circle.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np

from tempo_coach.music.files.sound import Sound
from tempo_coach.observe.take.onsets import Onsets

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from tempo_coach.pattern.plan.plan import Plan
    from tempo_coach.times import Floats

    Wave = NDArray[np.float64]

RATE_HZ = 44_100
SEED = 5

#: Eights, beats a minute at their begin and end. The pause follows the sixth.
TEMPI_BPM = (
    *((112, 112),) * 5,
    (112, 84),  # slowing into the pause
    *((112, 112),) * 3,
    (112, 104),
    *((104, 116),) * 3,
    *((116, 116),) * 5,
)
PAUSE_AFTER_EIGHT = 6
PAUSE = 2.4
LEAD = 0.6  # seconds of silence before the first count
#: Two bars an eight: root and third of each bar's chord, in semitones over a low A, and whether it is minor.
CHORDS = ((0, True), (5, True), (3, False), (7, False), (8, False), (3, False), (5, True), (7, False))
TUNE = (12, 15, 19, 15, 17, 15, 12, 10, 12, 14, 15, 19, 22, 19, 17, 14)


@dataclass(frozen=True, eq=False)
class Invented:
    """An invented piece of music, and its ingredients.

    Parameters
    ----------
    sound : Sound
    beats : array, shape (n,)
        Seconds of every beat: exact.
    pause : (start, end)
        The stretch without beats.
    """

    sound: Sound
    beats: Floats
    pause: tuple[float, float]


def compose() -> Invented:
    """Return the demo's music, about 80 s, always the same."""
    beats, pause = _beat_times()
    wave = np.zeros(int((beats[-1] + 2.5) * RATE_HZ))
    generator = np.random.default_rng(SEED)
    lengths = np.diff(beats, append=beats[-1] + 60 / TEMPI_BPM[-1][1])
    lengths = np.minimum(lengths, 0.8)  # what sounds before the pause dies away in it
    for beat, (time, length) in enumerate(zip(beats, lengths, strict=True)):
        root, minor = CHORDS[beat // 4 % len(CHORDS)]
        held = round(float(length), 9)  # beats that are equally long to all but the last bits share their notes
        chord = (root, root + (3 if minor else 4), root + 7)
        _add(wave, time, (0.30 if beat % 2 == 0 else 0.18) * _pluck(33 + root, 1.8 * held))
        for k, note in enumerate(chord):
            _add(wave, time + length * (0.5 if beat % 2 else 0.0), (0.10 - 0.02 * k) * _pluck(57 + note, held))
        if beat >= 8:  # the tune enters with the second eight
            _add(wave, time, 0.22 * _pluck(57 + TUNE[beat % len(TUNE)], 1.5 * held))
            if beat % 4 == 3:
                _add(wave, time + length / 2, 0.14 * _pluck(55 + TUNE[(beat + 1) % len(TUNE)], held))
        _add(wave, time, _drum(generator, deep=beat % 4 in (0, 2), loud=1.0 if beat % 4 == 0 else 0.7))
        _add(wave, time + length / 2, 0.35 * _drum(generator, deep=False, loud=0.6))
    wave *= 0.8 / np.abs(wave).max()
    return Invented(Sound(np.column_stack([wave, wave]).astype(np.float32), RATE_HZ), beats, pause)


def invent_onsets(plan: Plan, *, long_cycle: int = 5, late_cycle: int = 9) -> Onsets:
    """Return the onsets of an invented gymnast: 12 ms of scatter, 15 ms early, and two faults.

    Parameters
    ----------
    plan : Plan
    long_cycle : int
        This cycle, from 0, is 22 % long: everything after it comes later, and is caught up bit by bit.
    late_cycle : int
        In this one the last circle of the first hand comes 17 % of the cycle late.

    Returns
    -------
    Onsets
    """
    moments = plan.moments
    generator = np.random.default_rng(SEED)
    times = moments.time + generator.normal(-0.015, 0.012, len(moments))
    starts = np.array([moments.time[moments.cycle == c].min() for c in range(plan.cycles)])
    period = float(np.median(np.diff(starts))) if starts.size > 1 else 1.0
    into = (moments.time - starts[min(long_cycle, starts.size - 1)]) / period
    times += 0.22 * period * np.clip(into, 0, 1) * 0.4 ** np.maximum(into - 1, 0)
    last = np.flatnonzero((moments.cycle == late_cycle) & (np.array(moments.hand) == plan.hands[0]))[-1:]
    times[last] += 0.17 * period
    return Onsets.unsorted(times.tolist(), moments.hand)


def _beat_times() -> tuple[Floats, tuple[float, float]]:
    periods: list[float] = []
    for begin, end in TEMPI_BPM:
        periods.extend(60 / np.linspace(begin, end, 8))
    beats = LEAD + np.concatenate([[0.0], np.cumsum(periods)[:-1]])
    first_after = PAUSE_AFTER_EIGHT * 8
    beats[first_after:] += PAUSE
    return beats, (float(beats[first_after] - PAUSE), float(beats[first_after]))


def _add(wave: Wave, time: float, note: Wave) -> None:
    start = round(time * RATE_HZ)
    part = wave[start : start + len(note)]
    part += note[: len(part)]


@lru_cache(maxsize=32)  # the notes of a bar come again and again
def _pluck(semitones: float, length: float) -> Wave:
    """Return a plucked string: partials that decay faster the higher they are. MIDI number 69 is 440 Hz."""
    time = np.arange(int(length * RATE_HZ)) / RATE_HZ
    lowest = 440.0 * 2 ** ((semitones - 69) / 12)
    partial = np.exp((2j * np.pi * lowest - 1.6) * time)  # the first; the others are its powers
    tone = np.zeros_like(partial)
    for k in range(6, 0, -1):
        tone += k**-1.3
        tone *= partial
    edges = np.minimum(1, time / 0.004) * np.minimum(1, (length - time) / 0.03)
    note: Wave = tone.imag * np.exp(-2.5 * time) * edges
    return note


def _drum(generator: np.random.Generator, *, deep: bool, loud: float) -> Wave:
    """Return a drum hit, low-pitched, or a shaker."""
    time = np.arange(int(0.18 * RATE_HZ)) / RATE_HZ
    if deep:
        tone = np.sin(2 * np.pi * (55 * time + 6 * (1 - np.exp(-time / 0.02))))
        struck: Wave = loud * 0.45 * tone * np.exp(-time / 0.06)
    else:
        struck = loud * 0.10 * np.diff(generator.normal(size=time.size + 1)) * np.exp(-time / 0.025)
    return struck
