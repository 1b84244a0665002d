"""Cut music: joints by the true beats and by an onset detector of others, clicks, lengths, counts and loudness.

The pieces are played by FluidSynth on a sound font that nothing here was tuned on, every note exactly on its beat, so
that the beats are where the attacks are; their counts are put 20 ms wrong, each to one side or the other. What chose
the attacks and matched the sides are pieces of the seeds 2100 and 2101; those of ``SEED`` judge.

The detector of others can judge only where it hears the beats themselves: a joint counts for it where, in the music as
it was, it hears the beat before and those of both sides as far from the truth as each other, within 5 ms.
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
#: Seconds within which the detector of others has to hear beats alike, to judge a joint between them.
HEARD_WITHIN = 0.005
SEED = 4100
#: Of each kind: pieces, and joints in each of them.
PIECES, JOINTS = 4, 4


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


def _cut(sound: Sound, counts: CountMap, left: int, right: int) -> tuple[CutList, Sound]:
    """Join the eight before one beat to the one that begins at another."""
    pieces, _ = join(sound, counts, [KeptSpan(left - 8.0, float(left)), KeptSpan(float(right), right + 8.0)])
    cut = CutList(pieces)
    return cut, render(sound, cut)


def run() -> Iterator[Row]:
    """Yield the table."""
    warnings.simplefilter("ignore")
    rng = np.random.default_rng(SEED)
    by_beats: dict[str, list[float]] = {}
    by_detector: dict[str, list[float]] = {}
    clicks: list[float] = []
    moved: list[float] = []
    loudest = Sound(np.zeros((1, 1)), 44_100)
    for piece in make_kinds(SEED, each=PIECES, exact=True):
        eights = (piece.beats.size - 2) // 8
        if eights < 3:
            continue
        sound = read_sound(piece.sound)
        whole = Detector(sound)
        counts = CountMap(piece.beats + rng.choice([-WRONG_S, WRONG_S], piece.beats.size))
        for left in 8 * rng.permutation(np.arange(1, eights))[:JOINTS]:
            right = 8 * int(rng.integers(1, eights))
            cut, made = _cut(sound, counts, int(left), right)
            loudest = made if piece.kind == "pop" else loudest
            true = piece.beats[right] - piece.beats[left]
            by_beats.setdefault(piece.kind, []).append(1000 * (cut.pieces[1].start - cut.pieces[0].end - true))
            ears = [whole.attack(piece.beats[k]) - piece.beats[k] for k in (left - 1, left, right)]
            asked = whole.attack(piece.beats[left]) - whole.attack(piece.beats[left - 1])
            before = next(iter(cut.places(float(piece.beats[left - 1]))))
            heard = Detector(made)
            got = heard.attack(cut.starts[1]) - heard.attack(before)
            by_detector.setdefault(piece.kind, [])
            if np.ptp(ears) <= HEARD_WITHIN and np.isfinite(got - asked):
                by_detector[piece.kind].append(1000 * (got - asked))
            clicks.append(_largest_step(made, cut.starts[1]) / _usual_step(sound))
            there = {round(float(time), 6) for time in move_counts(counts, cut).beats}
            for each in counts.beats:
                moved += [
                    min(abs(place - time) for time in there)
                    for place in cut.places(float(each), slack=0.045)
                    if place > cut.begin
                ]
    for name, errors in (("by the true beats", by_beats), ("by a detector", by_detector)):
        for kind in SKETCHES:
            found = np.abs(errors.get(kind, []))
            if found.size:
                yield Row(f"joint {name}, {kind}: worst of {found.size}", float(found.max()), "ms", 5.0)
        every = np.abs(np.concatenate([np.array(each) for each in errors.values()]))
        within = float(np.mean(every <= 5.0))
        yield Row(f"joint {name}: within 5 ms, of {every.size}", within, aim=1.0, better="high")
        yield Row(f"joint {name}: 95 %", float(np.quantile(every, 0.95)), "ms", 5.0)
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
