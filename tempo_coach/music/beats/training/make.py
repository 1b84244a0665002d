"""Training examples: a minute of music each, its spectra as bytes, and its beats."""

from __future__ import annotations

import json
import os
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from tempo_coach.music.beats.features import FRAME_HZ, HEARD_HZ
from tempo_coach.music.beats.network import find_scale, show
from tempo_coach.music.beats.training.arrange import arrange
from tempo_coach.music.beats.training.compose import Piece, compose, pick_style
from tempo_coach.music.beats.training.fluid import DRUMS, RATE_HZ, Font, measure_attack
from tempo_coach.music.beats.training.perform import DRUM_KEYS, draw_times, perform
from tempo_coach.music.beats.training.spoil import spoil
from tempo_coach.music.beats.training.styles import STYLES
from tempo_coach.music.beats.training.voices import DELAYS, OWN, beat_drums, play_own

if TYPE_CHECKING:
    from pathlib import Path

FRAMES = 6000
SECONDS = FRAMES / FRAME_HZ
LEVELS = 85.0
"""Steps of a byte for one unit of the log spectra: 3 units fill it."""


@dataclass
class Band:
    """What plays: the sound fonts, how late each of their programs is heard, and the old tunes."""

    fonts: list[Font]
    attacks: list[dict[int, float]]
    scores: list[dict[str, object]]


def gather(folder: Path) -> Band:
    """Load the sound fonts and tunes of a folder (``*.sf3`` and ``scores.jsonl``)."""
    fonts = [Font(path) for path in sorted(folder.glob("*.sf3"))]
    attacks = [{program: measure_attack(font, program) for program in range(112)} for font in fonts]
    with (folder / "scores.jsonl").open() as lines:
        return Band(fonts, attacks, [json.loads(line) for line in lines])


def draw_piece(rng: np.random.Generator, band: Band, seconds: float) -> Piece:
    """Draw what is played: an old tune or chorale now and then, else something made up."""
    if rng.random() < 0.2:
        many = [s for s in band.scores if int(s["parts"]) > 1]  # type: ignore[call-overload]
        pool = many if rng.random() < 0.2 else band.scores
        score = pool[int(rng.integers(len(pool)))]
        return arrange(rng, score, beats=int(np.ceil(seconds * 170 / 60 / 4)) * 4)
    name = pick_style(rng)
    style = STYLES[name]
    bars = int(np.ceil(seconds * style.tempo[1] * 1.7 / 60 / style.beats)) + 2
    return compose(rng, bars=bars, name=name)


def play_piece(rng: np.random.Generator, band: Band, seconds: float) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Play one piece and return samples at 44.1 kHz, beats in seconds, and which of them are ones."""
    piece = draw_piece(rng, band, seconds)
    number = int(rng.integers(len(band.fonts)))
    font, attack = band.fonts[number], band.attacks[number]
    delays = [DELAYS[p] if p >= OWN else attack.get(p, 0.0) for p in piece.programs]
    times = draw_times(rng, piece)
    skip = rng.choice([0.0, rng.uniform(0, 12)])
    times.at = times.at + (rng.uniform(0.1, 2.5) if skip == 0 else 0.0)
    shown = perform(
        rng, piece, times, delays, loose=float(rng.choice([0.001, 0.004, 0.008, 0.014])), limit=seconds + skip
    )
    gain = [g * (0.5 if p >= OWN else 1.0) for g, p in zip(piece.gains, piece.programs, strict=True)]
    notes = [
        (a, b, p, int(np.clip(v * min(gain[m], 1.1), 8, 127)), m)
        for a, b, p, v, m in shown.notes
        if piece.programs[m] < OWN
    ]
    programs = [min(p, 127) for p in piece.programs]
    hits_own = rng.random() < 0.5
    if shown.hits and not hits_own:
        programs.append(DRUMS)
        which = int(rng.integers(2))
        notes += [
            (t, t + 0.1, DRUM_KEYS[n][which], int(np.clip(v * 95, 10, 127)), len(programs) - 1)
            for t, n, v in shown.hits
        ]
    total = seconds + skip
    sound = font.play(programs, notes, total, pedal=shown.pedal)
    extra = np.zeros(round(total * HEARD_HZ), np.float32)
    if shown.hits and hits_own:
        drums = beat_drums(rng, shown.hits, total)
        extra += drums * np.float32(rng.uniform(0.05, 0.25))
    for m, program in enumerate(piece.programs):
        if program >= OWN:
            own = play_own(rng, program, [x for x in shown.notes if x[4] == m], total)
            extra += own * np.float32(gain[m] * rng.uniform(0.2, 0.6))
    if extra.any():
        doubled = np.repeat(extra, 2)[: len(sound)]
        sound[: len(doubled)] += doubled
    return sound[round(skip * RATE_HZ) :], shown.beats - skip, shown.ones


def make_example(band: Band, seed: int) -> tuple[np.ndarray, np.ndarray]:
    """Make one example: spectra as bytes, shape (frames, bands, 2), and beats of (seconds, is a one), shape (n, 2)."""
    rng = np.random.default_rng([seed, 20_260])
    seconds = SECONDS * 1.08 + 0.5
    sound, beats, ones = play_piece(rng, band, seconds)
    if rng.random() < 0.12:
        other, later, firsts = play_piece(rng, band, seconds)
        cut = rng.uniform(12, 48)
        gap = 0.0 if rng.random() < 0.6 else rng.uniform(0, 1.5)
        enter = rng.uniform(0, 6)
        a, b, e = round(cut * RATE_HZ), round((cut + gap) * RATE_HZ), round(enter * RATE_HZ)
        fade = np.linspace(1, 0, 441, dtype=np.float32)
        first = sound[:a].copy()
        first[-441:] *= fade
        second = other[e : e + len(sound) - b].copy()
        second[:441] *= fade[::-1]
        sound = np.concatenate([first, np.zeros(b - a, np.float32), second])
        late = (later >= enter) & (later < enter + len(second) / RATE_HZ)
        early = beats < cut - 0.02
        beats = np.concatenate([beats[early], later[late] - enter + cut + gap])
        ones = np.concatenate([ones[early], firsts[late]])
    heard, speed = spoil(rng, sound, RATE_HZ, SECONDS + 0.2)
    beats = beats / speed
    keep = (beats >= 0) & (beats < SECONDS)
    shown = show(heard, find_scale(heard), 0, FRAMES)
    return np.clip(shown * LEVELS + 0.5, 0, 255).astype(np.uint8), np.stack([beats[keep], ones[keep]], axis=1)


def work(band: Band, seeds: list[int], out: Path) -> None:
    """Write examples; each file appears whole."""
    for seed in seeds:
        try:
            shown, beats = make_example(band, seed)
        except (ValueError, IndexError, KeyError) as problem:  # one odd draw must not end an hour's making
            print("seed", seed, repr(problem), flush=True)
            continue
        part = out / f"{seed}.part"
        with part.open("wb") as stream:
            np.savez(stream, shown=shown, beats=beats)
        part.rename(out / f"{seed}.npz")


def make(folder: Path, out: Path, *, first: int, count: int, processes: int) -> None:
    """Make examples with several processes; the fonts are loaded once and shared."""
    out.mkdir(parents=True, exist_ok=True)
    band = gather(folder)
    children = []
    for number in range(processes):
        child = os.fork()
        if child == 0:
            try:
                work(band, list(range(first + number, first + count, processes)), out)
            finally:
                os._exit(0)
        children.append(child)
    for child in children:
        os.waitpid(child, 0)
