"""Chroma and alignment of this program beside librosa's, on the same pieces: what is right, and processor seconds.

Keys: chord progressions of all 24 keys under drums, each found by the same profiles from four chromas. Alignment: a
tune through a hall, found by cross-correlation here and by dynamic time warping of chroma there, whose path is made a
line between the clocks by a robust fit. Nothing was tuned on these pieces, but the chroma here was chosen on others of
this very making, and librosa's was not; its warping is no way of finding one line. Its first calls are not counted:
they compile.
"""

from __future__ import annotations

import time
from typing import TYPE_CHECKING

import numpy as np

from tempo_coach.errors import CoachError
from tempo_coach.music.cutting.musical_key import MusicalKey, find_key, find_tones
from tempo_coach.music.files.sound import Sound
from tempo_coach.observe.sound.alignment import align
from tests.benchmarks.table import Row
from tests.generators.hall import through_hall, tune

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

RATE_HZ = 22_050
#: First seed of the pieces, read by nothing else.
SEED = 890_000
#: Level of the drums relative to the chords, dB, and of the crowd relative to the music.
DRUMS_DB, CROWDS_DB = (-12.0, 6.0), (-10.0, 0.0)
TUNES = 6
#: Keys of 24 that have to be right here, as on the worst of the seeds that the chroma was chosen on.
RIGHT_HERE = 22
_HOP = 512
#: Degrees of the scale on which the chords stand, semitones, and whether each is minor.
_CHORDS = {False: ((0, False), (9, True), (5, False), (7, False)), True: ((0, True), (8, False), (5, True), (7, False))}


def progression(key: MusicalKey, drums_db: float, rng: np.random.Generator) -> Sound:
    """Return 12 s of chords and scale tones in a key, of partials that decay, with noise struck twice a second."""
    out = np.zeros(12 * RATE_HZ)
    scale = (0, 2, 3, 5, 7, 8, 11) if key.minor else (0, 2, 4, 5, 7, 9, 11)

    def strike(midi: float, at: float, length: float, level: float) -> None:
        t = np.arange(round(length * RATE_HZ)) / RATE_HZ
        hz = 440 * 2 ** ((midi - 69) / 12) * (1 + rng.normal(0, 0.001))
        partials = [np.sin(2 * np.pi * k * hz * t + rng.uniform(0, 6)) / k**1.3 for k in range(1, 7)]
        begin = round(at * RATE_HZ)
        wave = level * np.sum(partials, axis=0) * np.exp(-2.5 * t)
        out[begin : begin + wave.size] += wave[: out.size - begin]

    for beat in range(24):
        root, minor = _CHORDS[key.minor][beat // 2 % 4]
        for third in (0, 3 if minor else 4, 7):
            strike(48 + key.tonic + root + third, beat / 2, 0.9, 1.0)
        strike(60 + key.tonic + float(rng.choice(scale)), beat / 2, 0.6, 1.2)
    hits = np.zeros(out.size)
    for at in range(0, out.size, RATE_HZ // 2):
        n = min(RATE_HZ // 5, out.size - at)
        hits[at : at + n] += rng.standard_normal(n) * np.exp(-np.arange(n) / (0.03 * RATE_HZ))
    hits *= np.sqrt(np.mean(out**2) / np.mean(hits**2)) * 10 ** (drums_db / 20)
    mixed = out + hits
    return Sound((0.5 * mixed / np.abs(mixed).max()).astype(np.float32)[:, None], RATE_HZ)


def _score(found: MusicalKey | None, key: MusicalKey) -> float:
    """Return the weight of an answer as MIREX has it (from memory): fifths .5, relatives .3, parallels .2."""
    if found is None:
        return 0.0
    apart = (found.tonic - key.tonic) % 12
    if found.minor == key.minor:
        return {0: 1.0, 5: 0.5, 7: 0.5}.get(apart, 0.0)
    relative = 9 if found.minor else 3
    return {relative: 0.3, 0: 0.2}.get(apart, 0.0)


def _keys() -> Iterator[Row]:
    import librosa

    def theirs(chroma: Callable[..., np.ndarray]) -> Callable[[Sound], np.ndarray]:
        return lambda sound: chroma(y=sound.samples[:, 0], sr=RATE_HZ).mean(axis=1).astype(float)

    ways: dict[str, Callable[[Sound], np.ndarray]] = {
        "here": lambda sound: find_tones(sound, 0.0, sound.duration),
        "chroma_stft": theirs(librosa.feature.chroma_stft),
        "chroma_cqt": theirs(librosa.feature.chroma_cqt),
        "chroma_cens": theirs(librosa.feature.chroma_cens),
    }
    for drums_db in DRUMS_DB:
        rng = np.random.default_rng([SEED, int(drums_db + 100)])
        keys = [MusicalKey(tonic, minor) for minor in (False, True) for tonic in range(12)]
        pieces = [progression(key, drums_db, rng) for key in keys]
        for name, find in ways.items():
            find(pieces[0])
            begin = time.process_time()
            scores = [_score(find_key(find(piece)), key) for piece, key in zip(pieces, keys, strict=True)]
            cost = (time.process_time() - begin) / len(pieces)
            what = f"key, drums {drums_db:+.0f} dB, {name}: right of {len(keys)}"
            floor = RIGHT_HERE if name == "here" else None
            yield Row(what, sum(each == 1.0 for each in scores), floor=floor, better="high")
            yield Row(f"{'':4}weighted; CPU {1000 * cost:.0f} ms for 12 s", float(np.mean(scores)), better="high")


def warp(heard: np.ndarray, music: np.ndarray) -> Callable[[float], float]:
    """Return the line from the recording's clock to the music's by librosa's subsequence warping of its chroma."""
    import librosa
    from scipy.stats import theilslopes

    both = [librosa.feature.chroma_cens(y=each, sr=RATE_HZ, hop_length=_HOP) for each in (heard, music)]
    _, path = librosa.sequence.dtw(X=both[0], Y=both[1], subseq=True)
    at, on = path[::-1].T * _HOP / RATE_HZ
    keep = slice(None, None, max(1, at.size // 400))
    slope, offset, *_ = theilslopes(on[keep], at[keep])
    return lambda t: offset + slope * t


def _alignments() -> Iterator[Row]:
    for crowd_db in CROWDS_DB:
        errors: dict[str, list[float]] = {"here": [], "librosa": []}
        cost = dict.fromkeys(errors, 0.0)
        refused = 0
        for number in range(TUNES):
            rng = np.random.default_rng([SEED, number])
            music = tune(SEED + number, 60.0, rate_hz=RATE_HZ).astype(np.float32)
            first, ppm, before = rng.uniform(5, 15), rng.uniform(-150, 150), 1.5
            part = music[round(first * RATE_HZ) : round((first + 36) * RATE_HZ)]
            heard = through_hall(part, rate_hz=RATE_HZ, before=before, noise_db=crowd_db, seed=SEED + number, ppm=ppm)
            first = round(first * RATE_HZ) / RATE_HZ
            middle = before + 18.0
            true = first + (middle - before) / (1 + ppm * 1e-6)
            for name, found in errors.items():
                begin = time.process_time()
                try:
                    if name == "here":
                        line = align(Sound(heard[:, None], RATE_HZ), Sound(music[:, None], RATE_HZ)).line
                        at = float(line.to_second(middle))
                    else:
                        at = warp(heard, music)(middle)
                except CoachError:
                    refused += 1
                    continue
                finally:
                    cost[name] += time.process_time() - begin
                found.append(1000 * abs(at - true))
        for name, found in errors.items():
            what = f"music in a hall, crowd {crowd_db:+.0f} dB, {name}: median error"
            yield Row(what, float(np.median(found)), "ms")
            yield Row(f"{'':4}worst of {len(found)}; CPU {cost[name] / TUNES:.1f} s", float(np.max(found)), "ms")
        yield Row(f"{'':4}refused here", refused)


def run() -> Iterator[Row]:
    """Yield what is right and what it costs, here and by librosa."""
    yield from _keys()
    yield from _alignments()
