"""The playing of a piece: when each beat falls, what bends, waits and stops, and which notes are struck when."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from tempo_coach.music.beats.training.compose import Piece

DRUM_KEYS = {
    "kick": (36, 35), "snare": (38, 40), "hat": (42, 42), "open": (46, 46), "clap": (39, 39), "ride": (51, 59),
    "crash": (49, 57), "tom": (48, 45), "lowtom": (41, 43), "rim": (37, 37), "shaker": (70, 82), "cow": (56, 56),
    "conga": (63, 64), "tamb": (54, 54), "timp": (41, 41), "taiko": (41, 43), "surdo": (36, 36), "brush": (40, 38),
    "tri": (81, 80), "burst": (37, 76),
}  # fmt: skip
"""Names of strokes and their keys of the General MIDI drum kit."""


@dataclass
class Times:
    """When the beats of a piece fall: `at` in seconds, one more than beats; `waits` are (beat, seconds, held)."""

    at: np.ndarray
    waits: list[tuple[int, float, bool]]

    def place(self, beats: np.ndarray, *, end: bool = False) -> np.ndarray:
        """Return seconds of positions in beats; ends of notes come before a silent wait and after a held one."""
        base = np.interp(beats, np.arange(len(self.at)), self.at)
        for where, seconds, held in self.waits:
            later = beats >= where - 1e-6 if not end else (beats > where + 1e-6) | (held & (beats > where - 0.3))
            base = base + seconds * later
        return base


def draw_times(rng: np.random.Generator, piece: Piece) -> Times:
    """Draw a tempo and how it moves; pieces that are played freely move more."""
    n, length = piece.beats, piece.length
    low, high = piece.tempo
    tempo = np.exp(rng.uniform(np.log(low * 0.93), np.log(high * 1.06)))
    log = np.full(length, np.log(60.0 / tempo))
    beat = np.arange(length)
    phrase = n * int(rng.choice([2, 4, 4, 8]))
    if rng.random() < 0.35 + 0.5 * piece.free:
        log += rng.uniform(0.005, 0.03) * np.sin(2 * np.pi * (beat / rng.uniform(16, 90) + rng.random()))
    if rng.random() < piece.free:
        spread = rng.choice([0.02, 0.04, 0.07, 0.11])
        log += smooth(rng.normal(0, spread, length), rng.uniform(0.2, 0.85))
        inside = (beat % phrase) / phrase
        log += rng.choice([0.08, 0.16, 0.32]) * rng.random() * np.abs(2 * inside - 1) ** rng.uniform(1, 3)
        if rng.random() < 0.3:  # single beats that are dwelt upon
            log += np.where(rng.random(length) < rng.uniform(0.02, 0.08), rng.uniform(0.1, 0.4), 0)
    if rng.random() < 0.15 + 0.5 * piece.free:
        depth, reach = rng.uniform(0.05, 0.5), rng.integers(1, n + 2)
        left = phrase - 1 - beat % phrase
        every = phrase * int(rng.choice([1, 2, 4]))
        some = (beat // phrase * phrase) % every == every - phrase
        log += np.where((left < reach) & some, depth * (1 - left / reach), 0)
    if rng.random() < 0.13:
        a, b = sorted(rng.uniform(0, length, 2))
        log += rng.uniform(-0.4, 0.4) * np.clip((beat - a) / max(b - a, 4), 0, 1)
    if rng.random() < 0.12:
        for _ in range(int(rng.integers(1, 4))):
            log[int(rng.integers(0, length // n)) * n :] += rng.uniform(-0.35, 0.35)
    drift = log - log[0]
    log = log[0] + np.clip(drift, -0.6, 0.7)
    at = np.concatenate([[0.0], np.cumsum(np.exp(log) * (1 + rng.normal(0, rng.choice([0, 0.002, 0.006]), length)))])
    waits: list[tuple[int, float, bool]] = []
    if rng.random() < 0.35:
        for _ in range(int(rng.integers(1, 4))):
            unit = piece.eight if piece.eight and rng.random() < 0.6 else n  # a new count begins after most pauses
            where = int(rng.integers(1, max(length // unit, 2))) * unit
            where += 0 if rng.random() < 0.85 else int(rng.integers(n))
            waits.append((where, float(rng.uniform(0.4, 6.0)), bool(rng.random() < 0.5)))
    return Times(at, waits)


def smooth(noise: np.ndarray, keep: float) -> np.ndarray:
    """Return noise that remembers its last value to a part, with the same spread."""
    out = noise.copy()
    for i in range(1, len(out)):
        out[i] = keep * out[i - 1] + np.sqrt(1 - keep**2) * noise[i]
    return out


def bend_swing(beats: np.ndarray, swing: float, split: int) -> np.ndarray:
    """Move the second half of each beat (each half of it, where it has four parts) later."""
    if split == 3 or swing < 0.505:
        return beats
    unit = 1.0 if split == 2 else 0.5
    whole = np.floor(beats / unit)
    inside = beats / unit - whole
    return (whole + np.interp(inside, [0, 0.5, 1], [0, swing, 1])) * unit


@dataclass
class Performance:
    """Notes (start, end, pitch, velocity, part) and strokes (time, name, loudness), and the beats as they are heard.

    `ones` and `eights` are 1 at beats on which a bar or an eight begins, 0 at others, nan where it is not known.
    """

    notes: list[tuple[float, float, int, int, int]]
    hits: list[tuple[float, str, float]]
    beats: np.ndarray
    ones: np.ndarray
    eights: np.ndarray
    pedal: list[tuple[float, int, int]]


def perform(
    rng: np.random.Generator, piece: Piece, times: Times, delays: list[float], *, loose: float, limit: float
) -> Performance:
    """Play a piece up to `limit` seconds: every note a little off, chords spread, slow attacks labelled where heard."""
    notes = sorted(piece.notes)
    start = np.array([x[0] for x in notes]) if notes else np.zeros(0)
    length = np.array([x[1] for x in notes]) if notes else np.zeros(0)
    begin = times.place(bend_swing(start, piece.swing, piece.split))
    part = np.array([x[4] for x in notes], int) if notes else np.zeros(0, int)
    wobble = rng.normal(0, loose, len(notes)) + rng.normal(0, loose * 0.7, len(piece.programs))[part]
    if piece.piano and rng.random() < 0.3:  # chords are broken upwards, their top last
        begin = begin + np.array([rng.uniform(0, 0.03) * max(p - 48, 0) / 24 for _, _, p, _, _ in notes])
    finish = times.place(start + length, end=True)
    fade = rng.uniform(0.6, 1.0) if rng.random() < 0.15 else 1.0
    out = [
        (float(max(b + w, 0.0)), float(max(e, b + 0.05)), p, int(np.clip(v * fade, 5, 127)), m)
        for b, w, e, (_, _, p, v, m) in zip(begin, wobble, finish, notes, strict=True) if b < limit
    ]  # fmt: skip
    hit_at = (
        times.place(bend_swing(np.array([h[0] for h in piece.hits]), piece.swing, piece.split))
        if piece.hits
        else np.zeros(0)
    )
    push = rng.normal(0, loose * 0.5)
    hits = [
        (float(max(t + push + rng.normal(0, loose * 0.5), 0)), name, v)
        for t, (_, name, v) in zip(hit_at, piece.hits, strict=True)
        if t < limit
    ]
    beat = np.arange(piece.length)
    at = times.place(beat.astype(float))
    shift = heard_shift(piece, delays, beat)
    at = at + shift
    keep = at < limit
    pedal: list[tuple[float, int, int]] = []
    if piece.piano and rng.random() < 0.7:
        for bar in np.arange(0, piece.length, piece.beats, dtype=float):
            moment = float(times.place(np.array([bar]))[0])
            pedal += [(max(moment - 0.01, 0), m, 0) for m in range(len(piece.programs))] + [
                (moment + 0.06, m, 1) for m in range(len(piece.programs))
            ]
    ones = np.where(piece.has_ones, beat % piece.beats == 0, np.nan)
    eights = beat % piece.eight == 0 if piece.eight else np.full(len(beat), np.nan)
    return Performance(out, hits, at[keep], ones[keep], eights[keep], pedal)


def heard_shift(piece: Piece, delays: list[float], beat: np.ndarray) -> np.ndarray:
    """Return how much later than written each beat is heard: by the quickest of the louder notes that begin on it."""
    quickest = np.full(len(beat), np.nan)
    loudest = np.zeros(len(beat))
    starting: dict[int, list[tuple[float, float]]] = {}
    for start, _, _, velocity, part in piece.notes:
        near = round(start)
        if abs(start - near) < 0.01 and near < len(beat):
            starting.setdefault(near, []).append((velocity * piece.gains[part], delays[part]))
    for start, _, loud in piece.hits:
        near = round(start)
        if abs(start - near) < 0.01 and near < len(beat):
            starting.setdefault(near, []).append((loud * 90, 0.0))
    for number, found in starting.items():
        loudest[number] = max(loud for loud, _ in found)
        quickest[number] = min(delay for loud, delay in found if loud >= 0.5 * loudest[number])
    known = ~np.isnan(quickest)
    return np.interp(beat, beat[known], quickest[known]) if known.any() else np.zeros(len(beat))
