"""Cut music: joints by the true beats and by an onset detector of others, clicks, lengths, counts and loudness.

The pieces are played by FluidSynth on a sound font that nothing here was tuned on; their counts are put 20 ms wrong,
each to one side or the other. What tuned the search for attacks is the small synthesiser of the tests, and what tuned
how sides are matched the pieces of seed 2100; those of ``SEED`` judge.
"""

from __future__ import annotations

import tempfile
import warnings
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from tempo_coach.music.counts.count_map import CountMap
from tempo_coach.music.cutting.cut_list import CutList
from tempo_coach.music.cutting.joints import KeptSpan, join
from tempo_coach.music.cutting.moved_counts import move_counts
from tempo_coach.music.cutting.render import CLEAR, CROSSFADE, render
from tempo_coach.music.files.programme_loudness import measure_loudness
from tempo_coach.music.files.sound import Sound
from tempo_coach.music.files.sound_file import read_sound, write_sound
from tests.benchmarks.beat_set.kinds import SKETCHES
from tests.benchmarks.beat_set.pieces import make_kinds
from tests.benchmarks.table import Row

if TYPE_CHECKING:
    from collections.abc import Iterator

WRONG_S = 0.020
SEED = 3100


class Detector:
    """librosa's onset strength at 1.5 ms, and the attack nearest to a time in it."""

    def __init__(self, sound: Sound) -> None:
        import librosa

        self._hop = 64
        self._rate_hz = sound.rate_hz
        self._strength = librosa.onset.onset_strength(
            y=np.asarray(sound.mono()), sr=sound.rate_hz, hop_length=self._hop, n_fft=1024, n_mels=80, lag=8
        )

    def attack(self, at: float, *, near: float = 0.045) -> float:
        """Seconds of the strongest peak near a time, or NaN."""
        frame = at * self._rate_hz / self._hop
        reach = near * self._rate_hz / self._hop
        first, last = max(1, int(frame - reach)), int(frame + reach)
        part = self._strength[first - 1 : last + 2]
        peaks = [k for k in range(1, part.size - 1) if part[k - 1] < part[k] >= part[k + 1]]
        if not peaks:
            return np.nan
        best = max(peaks, key=lambda k: part[k])
        left, middle, right = part[best - 1 : best + 2]
        bend = left - 2 * middle + right
        return float((first - 1 + best + (0.5 * (left - right) / bend if bend < 0 else 0)) * self._hop / self._rate_hz)


def _cut(sound: Sound, beats: np.ndarray, rng: np.random.Generator) -> tuple[CountMap, CutList, list[KeptSpan], Sound]:
    counts = CountMap(beats + rng.choice([-WRONG_S, WRONG_S], beats.size))
    eights = (beats.size - 2) // 8
    kept = (
        [KeptSpan(8.0, 16.0), KeptSpan(24.0, 32.0), KeptSpan(40.0, 48.0)]
        if eights >= 6
        else [KeptSpan(8, 16), KeptSpan(24, 32)]
    )
    pieces, _ = join(sound, counts, kept)
    cut = CutList(pieces)
    return counts, cut, kept, render(sound, cut)


def run() -> Iterator[Row]:
    """Yield the table."""
    warnings.simplefilter("ignore")
    rng = np.random.default_rng(SEED)
    late: dict[str, list[float]] = {}
    by_beats: dict[str, list[float]] = {}
    clicks: list[float] = []
    moved: list[float] = []
    loudest = Sound(np.zeros((1, 1)), 44_100)
    for piece in make_kinds(SEED, each=2):
        if piece.beats.size < 36:
            continue
        sound = read_sound(piece.sound)
        counts, cut, kept, made = _cut(sound, piece.beats, rng)
        loudest = made if piece.kind == "pop" else loudest
        whole, heard = Detector(sound), Detector(made)
        new = move_counts(counts, cut)
        there = {round(float(time), 6) for time in new.beats}
        for k in range(1, len(kept)):
            at = cut.starts[k]
            last, own = (int(kept[k - 1].end) - 1, int(kept[k - 1].end))
            asked = whole.attack(piece.beats[own]) - whole.attack(piece.beats[last])
            before = next(iter(cut.places(float(piece.beats[last]))))
            got = heard.attack(at) - heard.attack(before)
            late.setdefault(piece.kind, []).append(1000 * (got - asked))
            sides = cut.pieces[k].start - piece.beats[int(kept[k].start)], cut.pieces[k - 1].end - piece.beats[own]
            by_beats.setdefault(piece.kind, []).append(1000 * (sides[0] - sides[1]))
            clicks.append(_largest_step(made, at) / _usual_step(sound))
        for each in counts.beats:
            moved += [
                min(abs(place - time) for time in there)
                for place in cut.places(float(each), slack=0.045)
                if place > cut.begin
            ]
    for name, errors in (("by the true beats", by_beats), ("by a detector", late)):
        for kind in SKETCHES:
            found = np.abs([each for each in errors.get(kind, []) if np.isfinite(each)])
            if found.size:
                yield Row(f"joint {name}, {kind}: worst of {found.size}", float(found.max()), "ms", 5.0)
        every = np.abs(np.concatenate([np.array(each) for each in errors.values()]))
        every = every[np.isfinite(every)]
        yield Row(f"joint {name}: median of {every.size}", float(np.median(every)), "ms", 5.0)
    yield Row("largest step at a joint over that of its music", max(clicks), "", 1.0)
    yield Row("counts from where they were", 1000 * max(moved), "ms", 1.0)
    yield from _files(loudest)


def _largest_step(sound: Sound, at: float) -> float:
    """Largest step between two samples in the crossfade before a joint."""
    first, last = (round((at - part) * sound.rate_hz) for part in (CLEAR + CROSSFADE + 0.002, CLEAR / 2))
    return float(np.abs(np.diff(sound.samples[first:last], axis=0)).max())


def _usual_step(sound: Sound) -> float:
    return float(np.abs(np.diff(sound.samples, axis=0)).max())


def _files(made: Sound) -> Iterator[Row]:
    frames = {".wav": 1, ".flac": 1, ".ogg": 1, ".mp3": 1152, ".m4a": 1024}
    loud = measure_loudness(made)
    with tempfile.TemporaryDirectory() as folder:
        for ending, frame in frames.items():
            path = Path(folder) / f"cut{ending}"
            write_sound(path, made, title="invented")
            back = read_sound(path)
            yield Row(f"{ending}: length against what was asked", abs(len(back.samples) - len(made.samples)), "samples",
                      frame)  # fmt: skip
            yield Row(f"{ending}: loudness against before", abs(measure_loudness(back) - loud), "LU", 0.2)
