"""Music as written: notes and beats by quarters, from music21's corpus or made up by rule."""

from __future__ import annotations

import json
import warnings
from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from pathlib import Path


@dataclass(frozen=True)
class Written:
    """A piece by quarters from its first bar line: notes of (start, length, pitch, part), and its metre."""

    notes: list[tuple[float, float, int, int]]
    beat: float
    meter: int
    parts: int

    @property
    def end(self) -> float:
        """Quarters from the first bar line to the last note's end."""
        return max(start + length for start, length, _, _ in self.notes)


#: Time signature: quarters in a beat, beats in a bar.
METERS = {
    "2/4": (1, 2), "3/4": (1, 3), "4/4": (1, 4), "2/2": (1, 4), "3/8": (0.5, 3), "6/8": (1.5, 2), "9/8": (1.5, 3),
    "12/8": (1.5, 4),
}  # fmt: skip


def read_written(name: str, cache: Path) -> Written:
    """Return a piece of the corpus, ``name`` or ``name#number`` for one of a collection; parsed once, then kept."""
    kept = cache / (name.replace("/", "-").replace("#", "-") + ".json")
    if not kept.exists():
        piece = _parse(name)
        kept.parent.mkdir(parents=True, exist_ok=True)
        kept.write_text(json.dumps(asdict(piece)))
    return Written(**json.loads(kept.read_text()))


def _parse(name: str) -> Written:
    from music21 import corpus, meter, stream

    warnings.simplefilter("ignore")
    file, _, number = name.partition("#")
    score = corpus.parse(file, number=int(number)) if number else corpus.parse(file)
    parts = list(score.getElementsByClass(stream.Part)) or [score]
    signature = next(iter(parts[0].recurse().getElementsByClass(meter.TimeSignature)))
    beat, per_bar = METERS[signature.ratioString]
    bar = float(signature.barDuration.quarterLength)
    starts = [
        float(each.getOffsetInHierarchy(score))
        for each in parts[0].getElementsByClass(stream.Measure)
        if abs(each.duration.quarterLength - bar) < 0.01
    ]
    phases = [round(start % bar, 3) for start in starts]
    first = max(set(phases), key=phases.count)
    notes = []
    for part_number, part in enumerate(parts):
        for element in part.stripTies().flatten().notes:
            length = float(element.duration.quarterLength)
            if length > 0:
                notes += [
                    (round(float(element.offset) - first, 4), round(length, 4), int(pitch.midi), part_number)
                    for pitch in element.pitches
                ]
    return Written(sorted(notes), beat, per_bar, len(parts))


_CHORDS = ((0, 5, 3, 4), (0, 3, 4, 0), (0, 0, 3, 4), (5, 3, 0, 4), (0, 4, 5, 3), (0, 2, 3, 4))
_SCALES = ((0, 2, 4, 5, 7, 9, 11), (0, 2, 3, 5, 7, 8, 10))


def make_up(seed: int, *, meter: int, bars: int) -> Written:
    """Return an invented piece: bass (part 0), chords (part 1), melody (part 2), with off-beats and syncopes."""
    rng = np.random.default_rng(seed)
    scale = np.array(_SCALES[rng.integers(2)]) + rng.integers(-5, 6)
    chords = _CHORDS[rng.integers(len(_CHORDS))]
    spread = int(rng.integers(3))  # chords struck on beats, on off-beats, or broken into eighths
    bass_line = rng.random(2 * meter) < (0.25 + 0.4 * rng.random())
    bass_line[0] = True
    rhythms = [np.flatnonzero(rng.random(2 * meter) < 0.3 + 0.4 * rng.random()) / 2 for _ in range(3)]
    notes: list[tuple[float, float, int, int]] = []
    degree = 7
    for bar in range(bars):
        root = chords[bar % len(chords)]
        start = float(bar * meter)
        pitches = [int(scale[(root + 2 * k) % 7] + 12 * ((root + 2 * k) // 7)) for k in range(3)]
        notes += [(start + place / 2, 0.45, 36 + pitches[0], 0) for place in np.flatnonzero(bass_line)]
        if spread == 2:
            notes += [(start + k / 2, 0.5, 60 + pitches[k % 3], 1) for k in range(2 * meter)]
        else:
            notes += [(start + k + 0.5 * spread, 0.4, 60 + each, 1) for k in range(meter) for each in pitches]
        for place in rhythms[rng.integers(3)] if bar % 4 != 3 else np.zeros(1):
            degree = int(np.clip(degree + rng.integers(-2, 3), 0, 14))
            notes.append((start + float(place), 0.5, 67 + int(scale[degree % 7]) + 12 * (degree // 7) - 7, 2))
    return Written(sorted(notes), 1, meter, 3)
