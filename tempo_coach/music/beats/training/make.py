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


def play_piece(rng: np.random.Generator, band: Band, seconds: float) -> tuple[np.ndarray, np.ndarray]:
    """Play one piece and return samples at 44.1 kHz, and its beats.

    Beats are (seconds, begins a bar, begins an eight), shape (n, 3); the last two are nan where nobody knows.
    """
    piece = draw_piece(rng, band, seconds)
    if rng.random() < 0.12:  # whatever instruments there are, in whatever role
        piece.programs = [p if p >= OWN else int(rng.integers(112)) for p in piece.programs]
    number = int(rng.integers(len(band.fonts)))
    font, attack = band.fonts[number], band.attacks[number]
    delays = [DELAYS[p] if p >= OWN else attack.get(p, 0.0) for p in piece.programs]
    times = draw_times(rng, piece)
    skip = rng.choice([0.0, rng.uniform(0, 12)])
    times.at = times.at + (rng.uniform(0.1, 2.5) if skip == 0 else 0.0)
    if not piece.hits and not piece.piano and rng.random() < 0.35:  # notes that run into each other hide attacks
        piece.notes = [(a, length * rng.uniform(1.0, 1.25), p, v, m) for a, length, p, v, m in piece.notes]
    loose = float(rng.choice([0.001, 0.004, 0.008, 0.014] if piece.hits else [0.004, 0.008, 0.014, 0.02, 0.03]))
    shown = perform(rng, piece, times, delays, loose=loose, limit=seconds + skip)
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
    beats = np.stack([shown.beats - skip, shown.ones, shown.eights], axis=1)
    return sound[round(skip * RATE_HZ) :], beats


def join(
    sound: np.ndarray, beats: np.ndarray, other: np.ndarray, later: np.ndarray, *, cut: float, gap: float, enter: float
) -> tuple[np.ndarray, np.ndarray]:
    """Let one sound end at `cut` seconds and another, from its second `enter` on, begin `gap` seconds after that."""
    a, b, e = round(cut * RATE_HZ), round((cut + gap) * RATE_HZ), round(enter * RATE_HZ)
    fade = np.linspace(1, 0, 441, dtype=np.float32)
    first = sound[:a].copy()
    first[-441:] *= fade
    second = other[e : e + len(sound) - b].copy()
    second[:441] *= fade[::-1]
    late = (later[:, 0] >= enter) & (later[:, 0] < enter + len(second) / RATE_HZ)
    moved = later[late] + [cut + gap - enter, 0, 0]
    return np.concatenate([first, np.zeros(b - a, np.float32), second]), np.concatenate(
        [beats[beats[:, 0] < cut - 0.02], moved]
    )


def leave_out(
    rng: np.random.Generator, sound: np.ndarray, beats: np.ndarray, seconds: float
) -> tuple[np.ndarray, np.ndarray]:
    """Cut some beats out of a sound longer than `seconds`, from beat to beat, as music is cut to fit a routine."""
    most = int(np.searchsorted(beats[:, 0], beats[-1, 0] - seconds))
    inside = np.flatnonzero((beats[:, 0] > 8) & (beats[:, 0] < seconds - 6))
    if most < 2 or not len(inside):
        return sound, beats
    first = int(rng.choice(inside))
    number = int(rng.integers(1, min(most, 24) + 1))
    at, then = beats[first, 0] - 0.015, beats[first + number, 0] - 0.015
    return join(sound, beats, sound, beats, cut=at, gap=0.0, enter=then)


def make_example(band: Band, seed: int) -> tuple[np.ndarray, np.ndarray]:
    """Make one example: spectra as bytes, shape (frames, bands, 2), and beats as :func:`play_piece` gives them."""
    rng = np.random.default_rng([seed, 20_264])
    seconds = SECONDS * 1.08 + 0.5
    how = rng.random()
    sound, beats = play_piece(rng, band, seconds + (10.0 if how > 0.84 else 0.0))
    if how < 0.12:
        other, later = play_piece(rng, band, seconds)
        gap = 0.0 if rng.random() < 0.6 else rng.uniform(0, 1.5)
        sound, beats = join(sound, beats, other, later, cut=rng.uniform(12, 48), gap=gap, enter=rng.uniform(0, 6))
    elif how > 0.84 and len(beats) > 20:
        sound, beats = leave_out(rng, sound, beats, seconds)
    heard, speed = spoil(rng, sound, RATE_HZ, SECONDS + 0.2)
    beats = beats / [speed, 1, 1]
    keep = (beats[:, 0] >= 0) & (beats[:, 0] < SECONDS)
    shown = show(heard, find_scale(heard), 0, FRAMES)
    return np.clip(shown * LEVELS + 0.5, 0, 255).astype(np.uint8), beats[keep]


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
