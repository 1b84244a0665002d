"""The finder of beats on the development set: by kind, automatic, with a hint, with taps; librosa in the same run.

The first run renders the set with FluidSynth (some two minutes). Every figure is the mean over the pieces of a kind.
"""

from __future__ import annotations

import subprocess
import sys
import time
import warnings
from typing import TYPE_CHECKING

import numpy as np

from tempo_coach.errors import CoachError
from tempo_coach.music.beats.finder import find_beats
from tempo_coach.music.files.sound_file import read_sound
from tests.benchmarks.beat_set.judged import judge_beats
from tests.benchmarks.beat_set.pieces import make_set
from tests.benchmarks.table import Row

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from tempo_coach.music.files.sound import Sound
    from tests.benchmarks.beat_set.rendered import Piece

#: Floors and aims: name of the measure, way, floor, aim, which way is good.
_ASKED = {
    ("onsets", "F"): (0.75, 0.80, "high"),
    ("onsets", "tempo 4 %"): (None, 0.75, "high"),
    ("onsets", "|bias|"): (5.0, 3.0, "low"),
    ("onsets", "invented"): (2.0, 1.5, "low"),
    ("found", "F"): (0.80, 0.85, "high"),
    ("found", "|bias|"): (3.0, 1.0, "low"),
    ("found", "invented"): (2.0, 1.5, "low"),
    ("taps", "F"): (0.90, 0.95, "high"),
    ("taps", "error"): (11.0, 8.0, "low"),
}


def simulate_taps(beats: np.ndarray, seed: int) -> np.ndarray:
    """Return taps of one hearing: 25 ms early, SD 35 ms, 3 % missing or doubled."""
    rng = np.random.default_rng(seed)
    taps = beats - 0.025 + rng.normal(0, 0.035, len(beats))
    chance = rng.random(len(beats))
    doubled = taps[chance > 0.985] + rng.uniform(0.05, 0.12, int((chance > 0.985).sum()))
    return np.sort(np.concatenate([taps[chance > 0.015], doubled]))


def follow_by_librosa(sound: Sound) -> np.ndarray:
    """Return the beats of librosa's own search, as it comes."""
    import librosa

    mono = librosa.resample(np.asarray(sound.mono()), orig_sr=sound.rate_hz, target_sr=22_050)
    return np.asarray(librosa.beat.beat_track(y=mono, sr=22_050, units="time")[1])


def _or_none(find: Callable[[], np.ndarray]) -> np.ndarray:
    try:
        return find()
    except CoachError:
        return np.zeros(0)


def _ways(piece: Piece, sound: Sound, seed: int) -> Iterator[tuple[str, np.ndarray, float]]:
    hint = float(60 / np.median(np.diff(piece.beats)) * np.random.default_rng(seed).uniform(0.94, 1.06))
    taps = simulate_taps(piece.beats, seed)
    finders: dict[str, Callable[[], np.ndarray]] = {
        "librosa": lambda: follow_by_librosa(sound),
        "onsets": lambda: find_beats(sound, use_network=False).times,
        "onsets, hint": lambda: find_beats(sound, tempo_bpm=hint, use_network=False).times,
        "found": lambda: find_beats(sound).times,
        "found, hint": lambda: find_beats(sound, tempo_bpm=hint).times,
        "taps": lambda: find_beats(sound, taps=taps).times,
        "taps as they are": lambda: taps,
    }
    for way, find in finders.items():
        start = time.perf_counter()
        times = _or_none(find)
        yield way, times, time.perf_counter() - start


def run() -> Iterator[Row]:
    """Yield the table: every way, every kind, then all kinds together, then speed."""
    warnings.simplefilter("ignore")
    pieces = make_set()
    list(_ways(pieces[0], read_sound(pieces[0].sound), 0))
    measured: dict[str, list[tuple[str, dict[str, float]]]] = {}
    for seed, piece in enumerate(pieces):
        sound = read_sound(piece.sound)
        for way, times, spent in _ways(piece, sound, seed):
            row = judge_beats(times, piece.beats, piece.pauses) | {"times real time": sound.duration / max(spent, 1e-9)}
            measured.setdefault(way, []).append((piece.kind, row))
    kinds = list(dict.fromkeys(piece.kind for piece in pieces))
    for way, rows in measured.items():
        for kind in [*kinds, "all"]:
            chosen = [row for each, row in rows if kind in (each, "all")]
            for name in chosen[0]:
                values = [row[name] for row in chosen]
                if np.isnan(values).all():
                    continue
                mean = float(np.nanmean(values))
                if kind == "all" and name == "bias":
                    floor, aim, better = _ASKED.get((way, "|bias|"), (None, None, "low"))
                    yield Row(f"{way}: {kind}: |bias|", abs(mean), "ms", floor, aim, better)
                asked = _ASKED.get((way, name), (None, None, "low")) if kind == "all" else (None, None, "low")
                yield Row(f"{way}: {kind}: {name}", mean, "ms" if name in ("error", "bias") else "", *asked)
    yield from _speed()


def _speed() -> Iterator[Row]:
    """Yield seconds for 90 s of music in a fresh process, imports included, after one run that warms the disk."""
    script = (
        "import numpy as np, sys; from tempo_coach.music.files.sound import Sound;"
        "from tempo_coach.music.beats.finder import find_beats;"
        "k = np.arange(90 * 44100); x = np.sin(k * 0.06) * np.exp(-(k % 22050) / 3000)"
        " + np.random.default_rng(0).normal(0, 0.001, len(k));"
        "find_beats(Sound(np.stack([x, x], 1), 44100), use_network=sys.argv[1] == 'network')"
    )
    for name in ("onsets", "network"):
        for _ in range(2):
            start = time.perf_counter()
            subprocess.run([sys.executable, "-c", script, name], check=True)
            spent = time.perf_counter() - start
        yield Row(f"{name}: 90 s of music, imports included", spent, "s", 3.0)
