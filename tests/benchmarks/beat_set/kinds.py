"""Further kinds of music, drawn from a seed: what gymnasts move to, and what beats are hard to hear in.

Written and bent by rules of their own, not by those that the network's training examples are made by, and played by a
sound font that no training has heard. Where eights begin is known of these pieces alone, since they were made here.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from tests.benchmarks.beat_set.played import DRUMS, Played
from tests.benchmarks.beat_set.written import read_written

if TYPE_CHECKING:
    from pathlib import Path

#: Seconds after its start at which a note passes a fifth of its loudness, by instrument of TimGM6mb (measured).
HEARD_AFTER = {
    19: 0.017,
    21: 0.009,
    22: 0.012,
    40: 0.01,
    41: 0.013,
    42: 0.008,
    46: 0.008,
    52: 0.003,
    53: 0.014,
    54: 0.034,
    56: 0.005,
    60: 0.025,
    61: 0.01,
    65: 0.021,
    68: 0.016,
    71: 0.011,
    73: 0.028,
    75: 0.017,
    89: 0.065,
}
#: Chords of a phrase of eight bars as degrees of the scale: two halves, the second coming home.
_SONGS = ((0, 0, 3, 4, 0, 5, 4, 0), (0, 5, 3, 4, 0, 5, 4, 0), (0, 3, 0, 4, 0, 3, 4, 0), (5, 3, 0, 4, 5, 3, 4, 5),
          (0, 4, 5, 3, 0, 4, 3, 0), (0, 0, 4, 4, 4, 4, 0, 0))  # fmt: skip
_SCALES = ((0, 2, 4, 5, 7, 9, 11), (0, 2, 3, 5, 7, 8, 10))
_FOLK = ("ryansMammoth/MollShurkiesJig", "oneills1850/0001-0050#31", "airdsAirs/book1#12", "airdsAirs/book1#44",
         "oneills1850/0001-0050#7", "airdsAirs/book1#3")  # fmt: skip


@dataclass
class Sketch:
    """A kind as bars: notes of (beat in the bar, length, voice, velocity), voices being bass, chord, melody, drums."""

    meter: int
    tempo: tuple[float, float]
    sway: float
    bass: tuple[tuple[float, float, int], ...]
    chord: tuple[tuple[float, float], ...]
    drums: tuple[tuple[float, int, int], ...] = ()
    programs: tuple[tuple[int, ...], ...] = ((32,), (0,), (73,))
    busy: float = 0.5
    swing: float = 0.5
    loose: float = 0.008


_HELD = ((0.0, 3.9, 0),)
_WALK = ((0.0, 0.9, 0), (1.0, 0.9, 2), (2.0, 0.9, 4), (3.0, 0.9, 5))
_FOUR = tuple((k / 2, 42, 60) for k in range(8))
SKETCHES: dict[str, Sketch] = {
    "rubato": Sketch(
        4, (54, 104), 0.24, _HELD, tuple((k / 2, 0.6) for k in range(8)), programs=((0,), (0,), (0, 71, 40))
    ),
    "rubato3": Sketch(
        3, (72, 132), 0.24, ((0.0, 2.9, 0),), ((1.0, 0.8), (2.0, 0.8)), programs=((0,), (0,), (0, 68, 42))
    ),
    "jazz": Sketch(
        4,
        (84, 200),
        0.03,
        _WALK,
        ((1.5, 0.3), (3.0, 0.4)),
        (*tuple((k, 40, 55) for k in range(4)), (1.5, 40, 40), (3.5, 40, 40), (1.0, 44, 50), (3.0, 44, 50)),
        ((32,), (0, 26), (56, 65, 71)),
        0.6,
        0.64,
        0.012,
    ),
    "ballad": Sketch(
        4,
        (58, 92),
        0.06,
        ((0.0, 1.9, 0), (2.0, 1.4, 4), (3.5, 0.4, 3)),
        ((1.0, 0.6), (2.5, 0.8)),
        ((0.0, 40, 40), (1.0, 40, 55), (2.0, 40, 40), (3.0, 40, 55)),
        ((32,), (0, 26), (65, 56)),
        0.5,
        0.62,
        0.014,
    ),
    "strings": Sketch(
        4,
        (56, 112),
        0.1,
        _HELD,
        ((0.0, 1.95), (2.0, 1.95)),
        (),
        ((42, 43), (48, 49, 50), (40, 48, 49)),
        0.4,
        0.5,
        0.015,
    ),
    "orchestra": Sketch(
        4,
        (66, 138),
        0.12,
        ((0.0, 1.9, 0), (2.0, 1.9, 4)),
        ((0.0, 0.9), (1.0, 0.9), (2.0, 0.9), (3.0, 0.9)),
        (),
        ((43, 58), (48, 60, 49), (68, 73, 56, 40)),
        0.5,
        0.5,
        0.015,
    ),
    "singing": Sketch(4, (62, 120), 0.1, (), (), (), ((52,), (52,), (53, 54, 52)), 0.7, 0.5, 0.015),
    "offbeat": Sketch(
        4,
        (64, 140),
        0.01,
        ((0.0, 0.9, 0), (2.5, 0.4, 4), (3.0, 0.9, 0)),
        tuple((k + 0.5, 0.25) for k in range(4)),
        ((2.0, 36, 90), (2.0, 37, 90), *((k + 0.5, 42, 60) for k in range(4))),
        ((33,), (27, 16, 0), (56, 65, 22)),
        0.45,
    ),
    "backbeat": Sketch(
        4,
        (70, 132),
        0.03,
        ((0.0, 0.9, 0), (2.0, 0.9, 4)),
        ((1.0, 0.3), (3.0, 0.3)),
        (),
        ((32,), (24, 25, 105), (40, 22, 73)),
        0.5,
    ),
    "tango": Sketch(
        4,
        (104, 136),
        0.08,
        ((0.0, 0.6, 0), (1.5, 0.4, 4), (2.0, 0.9, 0), (3.0, 0.9, 4)),
        ((0.0, 0.3), (1.0, 0.3), (2.0, 0.3), (3.0, 0.3), (3.5, 0.2)),
        (),
        ((43,), (0, 21), (40, 21)),
        0.55,
        0.5,
        0.012,
    ),
    "waltz": Sketch(
        3,
        (88, 186),
        0.08,
        ((0.0, 2.9, 0),),
        ((1.0, 0.5), (2.0, 0.5)),
        (),
        ((43, 58), (48, 21, 0, 45), (40, 73, 21)),
        0.4,
        0.5,
        0.01,
    ),
    "remix": Sketch(
        4,
        (100, 150),
        0.0,
        ((0.5, 0.4, 0), (1.5, 0.4, 0), (2.5, 0.4, 0), (3.5, 0.4, 4)),
        ((0.0, 0.4), (1.5, 0.4), (3.0, 0.4)),
        (
            *((float(k), 36, 112) for k in range(4)),
            (1.0, 39, 95),
            (3.0, 39, 95),
            *((k + 0.5, 46, 70) for k in range(4)),
        ),
        ((38, 39), (81, 90, 62), (80, 81)),
        0.5,
        0.5,
        0.001,
    ),
    "film": Sketch(
        4,
        (72, 144),
        0.04,
        _HELD,
        tuple((k / 2, 0.4) for k in range(8)),
        ((0.0, 41, 100), (1.5, 41, 80), (2.5, 41, 80)),
        ((43, 58), (48, 49, 45), (60, 61, 48)),
        0.25,
        0.5,
        0.01,
    ),
    "pop": Sketch(
        4,
        (72, 132),
        0.01,
        ((0.0, 0.9, 0), (1.5, 0.4, 0), (2.0, 0.9, 4)),
        ((0.0, 0.9), (1.5, 0.4), (2.5, 0.4)),
        ((0.0, 36, 105), (2.5, 36, 95), (1.0, 38, 100), (3.0, 38, 100), *_FOUR),
        ((33, 38), (27, 4, 89), (80, 65, 53)),
        0.55,
    ),
    "folk": Sketch(2, (60, 160), 0.04, (), (), (), ((21,), (21,), (21, 22, 40, 73, 75, 105)), 0.5, 0.5, 0.008),
    "clicks": Sketch(4, (84, 144), 0.0, (), ()),
}
SECONDS = 48


def sway(number: int, meter: int, amount: float, rng: np.random.Generator) -> np.ndarray:
    """Return the relative length of each beat: slow waves, and each phrase drawn out towards its end."""
    beat = np.arange(number)
    log = np.zeros(number)
    for wave in (8 * meter, 4 * meter, 2.6 * meter, 1.3 * meter):
        log += amount * rng.normal(0, 0.28) * np.sin(2 * np.pi * (beat / wave + rng.random()))
    inside = beat % (4 * meter) / (4 * meter)
    log += amount * rng.uniform(0.3, 1.0) * np.maximum(inside - 0.7, 0) / 0.3
    return np.exp(log + amount * rng.normal(0, 0.12, number))


def _swing(beat: float, swing: float) -> float:
    whole = np.floor(beat)
    return float(whole + np.interp(beat - whole, [0, 0.5, 1], [0, swing, 1]))


def perform(kind: str, seed: int, cache: Path, *, exact: bool = False) -> tuple[Played, np.ndarray]:
    """Return a piece of a kind as played, and where its eights begin (none where nobody knows).

    Played exactly, every note lies where its beat says: its beats may bend, but no note is early or late by itself.
    """
    sketch = replace(SKETCHES[kind], loose=0.0) if exact else SKETCHES[kind]
    rng = np.random.default_rng([seed, sorted(SKETCHES).index(kind)])
    bpm = float(np.exp(rng.uniform(*np.log(sketch.tempo))))
    if kind == "clicks":
        return _click(bpm, rng), np.zeros(0)
    meter = sketch.meter
    programs = [int(rng.choice(each)) for each in sketch.programs]
    beats = int(np.ceil(SECONDS * bpm / 60 / meter / 2)) * 2 * meter
    if kind == "folk":
        tune = read_written(_FOLK[int(rng.integers(len(_FOLK)))], cache)
        meter = tune.meter
        bars = max(1, int(np.ceil(tune.end / tune.beat / meter - 1e-6)))
        score = [
            (start / tune.beat + again * bars * meter, length / tune.beat, pitch, 2, 74)
            for again in range(beats // (bars * meter) + 1)
            for start, length, pitch, _ in tune.notes
        ]
        beats = beats // meter * meter
    else:
        score = _write(sketch, beats, rng)
    starts = np.concatenate([[0.0], np.cumsum(60 / bpm * sway(beats + 1, meter, sketch.sway, rng))]) + rng.uniform(
        0.2, 2
    )
    notes = []
    for start, length, pitch, voice, velocity in score:
        if not 0 <= start < beats - 0.01:
            continue
        channel = DRUMS if voice == 3 else voice
        own = rng.normal(0, sketch.loose) - (HEARD_AFTER.get(programs[voice], 0) if voice < 3 else 0)
        first = max(0.0, float(np.interp(_swing(start, sketch.swing), np.arange(beats + 2), starts)) + own)
        last = float(np.interp(min(start + length, beats), np.arange(beats + 2), starts))
        notes.append(
            (first, max(last, first + 0.06), pitch, int(np.clip(velocity + rng.normal(0, 5), 20, 120)), channel)
        )
    used = dict(enumerate(programs)) | ({DRUMS: 40} if kind in ("jazz", "ballad") else {})
    ones = starts[:beats:meter]
    eights = starts[:beats:8] if meter in (2, 4) and kind != "folk" else np.zeros(0)
    return Played(sorted(notes), used, starts[:beats], ones, []), eights


def _write(sketch: Sketch, beats: int, rng: np.random.Generator) -> list[tuple[float, float, int, int, int]]:
    """Write phrases of eight bars: A A B A, each with its own rhythm, motifs of two bars said twice."""
    scale, key = np.array(_SCALES[rng.integers(2)]), int(rng.integers(-5, 6))
    meter = sketch.meter
    songs = [_SONGS[k] for k in rng.choice(len(_SONGS), 2, replace=False)]
    places = np.arange(2 * meter) / 2
    likely = np.where(places == 0, 1.2, np.where(places % 1 == 0, 1.0, 0.6)) * sketch.busy * 1.1
    motifs = [[places[rng.random(2 * meter) < likely] for _ in range(2)] for _ in range(2)]

    def pitch(degree: int, low: int) -> int:
        return int(low + key + scale[degree % 7] + 12 * (degree // 7))

    score: list[tuple[float, float, int, int, int]] = []
    degree = 4
    for bar in range(beats // meter):
        part = (0, 0, 1, 0)[bar // 8 % 4]
        root = songs[part][bar % 8]
        at = float(bar * meter)
        for start, length, up in sketch.bass:
            score.append((at + start, length, pitch(root + up, 36), 0, 78 + 8 * (start == 0)))
        for start, length in sketch.chord:
            score += [(at + start, length, pitch(root + up, 55), 1, 62) for up in (0, 2, 4)]
        rhythm = motifs[part][bar % 2] if bar % 4 != 3 else np.zeros(1)
        for number, start in enumerate(rhythm):
            degree = int(np.clip(degree + rng.integers(-2, 3), -2, 11))
            if number == 0 and bar % 2 == 0:
                degree = root + 2 * int(rng.integers(0, 3))
            end = rhythm[number + 1] if number + 1 < len(rhythm) else float(meter)
            score.append((at + float(start), 0.92 * float(end - start), pitch(degree, 67), 2, 80))
        score += [(at + start, 0.1, key_, 3, velocity) for start, key_, velocity in sketch.drums]
        if sketch.drums and bar % 8 == 0 and bar:
            score.append((at, 0.1, 49, 3, 80))
    return score


def _click(bpm: float, rng: np.random.Generator) -> Played:
    """Return clicks whose tempo bends by up to 6 % and back."""
    number = int(SECONDS * bpm / 60)
    pace = 1 + 0.06 * np.sin(2 * np.pi * (np.arange(number) / rng.uniform(20, 60) + rng.random()))
    starts = np.cumsum(60 / bpm / pace)
    notes = [(float(start), float(start) + 0.05, 76, 100, DRUMS) for start in starts]
    return Played(notes, {}, starts, np.zeros(0), [])


def spoil(
    kind: str, seed: int, samples: np.ndarray, rate_hz: int, played: Played, eights: np.ndarray
) -> tuple[np.ndarray, Played, np.ndarray]:
    """Return a piece (one channel) as it reaches a file: cut, faster, pressed, in a hall, by a phone; and its truth."""
    rng = np.random.default_rng([seed, 77, sorted(SKETCHES).index(kind)])
    beats, ones = played.beats, played.ones
    if kind == "remix":
        number = int(rng.choice([2, 4, 6, 8, 12]))
        at = int(rng.integers(len(beats) // 3, len(beats) // 2))
        a, b = beats[at] - 0.01, beats[at + number] - 0.01
        samples = np.concatenate([samples[: round(a * rate_hz)], samples[round(b * rate_hz) :]])

        def move(times: np.ndarray) -> np.ndarray:
            return np.concatenate([times[times < a], times[times >= b] - (b - a)])

        beats, ones, eights = move(beats), move(ones), move(eights)
    if kind == "clicks" and rng.random() < 0.6:
        for start in played.beats:
            at = round(start * rate_hz)
            samples[at : at + 1500] += rng.normal(0, 0.1, len(samples[at : at + 1500])) * np.exp(
                -np.arange(len(samples[at : at + 1500])) / 300
            )
    chance = rng.random()
    if kind not in ("clicks", "singing") and chance < 0.25:  # begins in the middle
        start = round(rng.uniform(3, 9) * rate_hz)
        samples = samples[start:]
        beats, ones, eights = (t[t > start / rate_hz] - start / rate_hz for t in (beats, ones, eights))
    if rng.random() < 0.3:  # a record at another speed
        speed = float(rng.uniform(0.97, 1.03))
        samples = np.interp(np.arange(0, len(samples) - 1, speed), np.arange(len(samples)), samples)
        beats, ones, eights = beats / speed, ones / speed, eights / speed
    chance = rng.random()
    if chance < 0.25:  # a hall
        tail = rng.normal(0, 1, round(1.8 * rate_hz)) * np.exp(-np.arange(round(1.8 * rate_hz)) / rate_hz / 0.3)
        tail *= 0.5 / np.sqrt((tail**2).sum())
        tail[0] = 1
        size = 1 << int(np.ceil(np.log2(len(samples) + len(tail))))
        samples = np.fft.irfft(np.fft.rfft(samples, size) * np.fft.rfft(tail, size), size)[: len(samples)]
    elif chance < 0.45:  # a phone in the gym
        spectrum = np.fft.rfft(samples)
        hz = np.fft.rfftfreq(len(samples), 1 / rate_hz)
        samples = np.fft.irfft(
            spectrum * (1 / (1 + (350 / np.maximum(hz, 1)) ** 4) / (1 + (hz / 3800) ** 6)), len(samples)
        )
        samples += 0.04 * samples.std() * rng.normal(0, 1, len(samples))
    elif chance < 0.65:  # pressed hard
        samples = np.tanh(samples / (samples.std() + 1e-9) * 1.5) * 0.3
    peak = np.abs(samples).max()
    return (samples / peak * 0.8 if peak > 0 else samples), Played([], {}, beats, ones, []), eights
