"""Music whose level is easily missed: grooves in which a pulse twice, half or one and a half times as fast is as plain.

Written by rules of their own, none of them those of the other kinds. What is told of levels was chosen on seeds 1 to 4
and 11 to 13 (112 pieces), beside 76 pieces of the other kinds; seeds 21 and 22 were kept for judging.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from tests.benchmarks.beat_set.pieces import cache_folder
from tests.benchmarks.beat_set.played import DRUMS, Played
from tests.benchmarks.beat_set.rendered import HELD_OUT, Piece, render

if TYPE_CHECKING:
    from collections.abc import Sequence

KICK, RIM, SNARE, CLAP, HAT, OPEN, RIDE, SHAKER = 36, 37, 38, 39, 42, 46, 51, 70


@dataclass(frozen=True)
class Groove:
    """Counts a bar, tempo; drums (place, key, loudness), bass and chords of a bar; the smallest step of a tune."""

    meter: int
    tempo: tuple[float, float]
    drums: tuple[tuple[float, int, int], ...]
    bass: tuple[float, ...]
    chords: tuple[float, ...]
    step: float
    programs: tuple[tuple[int, ...], ...]
    sway: float = 0.01


def _every(step: float, key: int, loud: int) -> tuple[tuple[float, int, int], ...]:
    return tuple((float(place), key, loud) for place in np.arange(0, 4 - 1e-6, step))


GROOVES: dict[str, Groove] = {
    # the back beat comes on the third count alone: half the tempo is as plain
    "half time": Groove(
        4,
        (116, 164),
        ((0.0, KICK, 110), (2.0, SNARE, 108), *_every(1, HAT, 70)),
        (0.0, 2.5),
        (0.0,),
        1.0,
        ((33, 38), (89, 48), (80, 53)),
    ),
    # hats at four a count: twice the tempo is as plain
    "busy hats": Groove(
        4,
        (60, 88),
        (
            (0.0, KICK, 108),
            (1.0, SNARE, 100),
            (2.0, KICK, 100),
            (2.5, KICK, 90),
            (3.0, SNARE, 100),
            *_every(0.25, HAT, 75),
        ),
        (0.0, 1.5, 2.0, 3.5),
        (0.0, 0.5, 1.0, 1.5, 2.0, 2.5, 3.0, 3.5),
        0.25,
        ((33, 39), (4, 27), (65, 80)),
    ),
    "march": Groove(
        2,
        (96, 132),
        ((0.0, KICK, 100), (0.5, SNARE, 70), (1.0, KICK, 96), (1.5, SNARE, 72)),
        (0.0, 1.0),
        (0.5, 1.5),
        0.5,
        ((58, 43), (61, 60), (72, 56, 71)),
    ),
    "polka": Groove(2, (100, 138), (), (0.0, 1.0), (0.5, 1.5), 0.5, ((58, 32), (21, 0, 24), (71, 21, 40)), 0.02),
    "arpeggio": Groove(
        4, (54, 80), (), (0.0,), tuple(np.arange(0, 4, 0.5)), 0.5, ((42, 0), (0, 24, 46), (73, 40, 68)), 0.04
    ),
    "sixteenths": Groove(
        4, (56, 84), (), (0.0, 2.0), tuple(np.arange(0, 4, 0.25)), 0.5, ((43, 0), (0, 6, 46), (68, 40, 73)), 0.04
    ),
    "quick swing": Groove(
        4,
        (176, 232),
        (*_every(1, RIDE, 70), (1.67, RIDE, 55), (3.67, RIDE, 55), (1.0, 44, 70), (3.0, 44, 70)),
        (0.0, 1.0, 2.0, 3.0),
        (1.67,),
        1.0,
        ((32,), (0, 26), (65, 56, 71)),
        0.02,
    ),
    "quick two": Groove(
        4,
        (160, 208),
        ((0.0, KICK, 100), (2.0, KICK, 96), (1.0, SNARE, 80), (3.0, SNARE, 80)),
        (0.0, 2.0),
        (1.0, 3.0),
        0.5,
        ((32, 33), (25, 105), (40, 22, 110)),
    ),
    "six eight": Groove(
        2,
        (66, 126),
        (),
        (0.0, 1.0),
        (0.0, 1 / 3, 2 / 3, 1.0, 4 / 3, 5 / 3),
        1 / 3,
        ((43, 32), (24, 0, 46), (73, 40, 68)),
        0.03,
    ),
    "twelve eight": Groove(
        4,
        (50, 84),
        ((0.0, KICK, 104), (1.0, SNARE, 96), (2.0, KICK, 100), (3.0, SNARE, 96), *_every(1 / 3, HAT, 72)),
        (0.0, 2.0),
        tuple(np.arange(12) / 3),
        1 / 3,
        ((33,), (0, 16), (65, 56)),
    ),
    "three and three and two": Groove(
        4,
        (84, 136),
        ((0.0, KICK, 106), (1.5, KICK, 100), (3.0, KICK, 98), *_every(0.5, SHAKER, 60)),
        (0.0, 1.5, 3.0),
        (0.0, 1.5, 3.0),
        0.5,
        ((33, 32), (24, 0), (56, 75, 40)),
    ),
    "quick waltz": Groove(3, (150, 204), (), (0.0,), (1.0, 2.0), 1.0, ((43, 32), (0, 21, 48), (40, 73, 21)), 0.04),
    "bells": Groove(4, (60, 96), (), (0.0,), (0.0, 2.0), 1.0, ((89, 48), (9, 14, 46), (11, 9, 73)), 0.03),
    "broken beat": Groove(
        4,
        (148, 178),
        (
            (0.0, KICK, 108),
            (1.0, SNARE, 104),
            (2.5, KICK, 104),
            (3.0, SNARE, 104),
            (1.75, SNARE, 60),
            *_every(0.5, HAT, 68),
        ),
        (0.0, 2.5),
        (0.0,),
        1.0,
        ((38, 39), (89, 90), (81, 88)),
    ),
    "slow pulse": Groove(
        4,
        (56, 76),
        ((0.0, KICK, 100), (2.0, SNARE, 96), *_every(0.5, RIM, 60)),
        (0.0, 2.0),
        (0.0, 1.0, 2.0, 3.0),
        1.0,
        ((33, 35), (0, 4), (53, 71)),
    ),
    "two three": Groove(
        3, (84, 132), (), (0.0, 1.5), (0.5, 1.0, 2.0, 2.5), 0.5, ((32, 43), (24, 25, 0), (73, 40)), 0.02
    ),
}
SECONDS = 42
_ROOTS = ((0, 5, 3, 4), (0, 3, 0, 4), (5, 3, 0, 4), (0, 4, 5, 3), (1, 4, 0, 0))
_SCALES = ((0, 2, 4, 5, 7, 9, 11), (0, 2, 3, 5, 7, 8, 10))


def perform(name: str, seed: int) -> Played:
    """Return a piece in a groove as played; every four bars something else of it sounds."""
    groove = GROOVES[name]
    rng = np.random.default_rng([seed, 4019, sorted(GROOVES).index(name)])
    bpm = float(np.exp(rng.uniform(*np.log(groove.tempo))))
    meter = groove.meter
    bars = int(np.ceil(SECONDS * bpm / 60 / meter))
    programs = {k: int(rng.choice(each)) for k, each in enumerate(groove.programs)}
    scale, key, roots = _SCALES[rng.integers(2)], int(rng.integers(-6, 6)), _ROOTS[rng.integers(len(_ROOTS))]
    per_chord = int(rng.choice([1, 2])) * (2 if meter == 2 else 1)
    beats = bars * meter
    place = np.arange(beats + 1)
    walk = np.cumsum(rng.normal(0, 0.5, beats + 1)) * 0.3
    wave = np.sin(2 * np.pi * (place / (4 * meter) + rng.random()))
    lengths = 60 / bpm * np.exp(groove.sway * walk + groove.sway * wave)
    starts = rng.uniform(0.1, 1.5) + np.concatenate([[0.0], np.cumsum(lengths)])
    notes = []

    def pitch(degree: int, low: int) -> int:
        return int(low + key + scale[degree % 7] + 12 * (degree // 7))

    def add(count: float, long: float, note: int, voice: int, loud: int) -> None:
        a, b = np.interp([count, count + long], np.arange(len(starts)), starts)
        a = max(0.0, a + rng.normal(0, 0.006))
        velocity = int(np.clip(loud + rng.normal(0, 6), 25, 120))
        notes.append((float(a), float(max(b, a + 0.05)), note, velocity, voice))

    places = np.arange(0, 2 * meter - 1e-6, groove.step)
    tune = [place for place in places if rng.random() < (0.85 if place % 1 < 1e-6 else 0.5)]
    degree = 4
    for bar in range(bars):
        at, root = float(bar * meter), roots[bar // per_chord % 4]
        part = bar // 4 % 4
        for start in groove.bass:
            add(at + start, 0.8, pitch(root, 36), 0, 84)
        if part != 3 or not groove.drums:
            for start in groove.chords:
                for up in (0, 2, 4):
                    add(at + start, min(0.9, 2 * groove.step), pitch(root + up, 55), 1, 64)
        for start in tune if part else ():
            if int(start // meter) == bar % 2:
                degree = int(np.clip(degree + rng.integers(-2, 3), -1, 10))
                add(at + start - meter * (bar % 2), 0.9 * groove.step, pitch(degree, 67), 2, 82)
        for start, drum, loud in groove.drums:
            add(at + start, 0.1, drum, DRUMS, loud)
    return Played(sorted(notes), programs, starts[:beats], starts[:beats:meter], [])


def make_levels(seeds: Sequence[int]) -> list[Piece]:
    """Return a piece of every groove for each seed, made where it is not yet there."""
    cache = cache_folder()
    cache.mkdir(parents=True, exist_ok=True)
    made = []
    for seed in seeds:
        for name in GROOVES:
            stem = f"level-{name.replace(' ', '_')}-{seed}"
            sound, truth = cache / f"{stem}.flac", cache / f"{stem}.npz"
            if not (sound.exists() and truth.exists()):
                played = perform(name, seed)
                render(played, sound, fonts=HELD_OUT)
                np.savez(truth, beats=played.beats, ones=played.ones)
            nothing = np.zeros(0)
            with np.load(truth) as known:
                made.append(Piece(stem, name, sound, known["beats"], known["ones"], np.zeros((0, 2)), True, nothing))
    return made
