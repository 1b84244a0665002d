"""Instruments of our own by synthesis: a drum kit drawn anew each time, plucks, leads, pads and a voice that sings."""

from __future__ import annotations

import numpy as np
from scipy.signal import butter, lfilter

RATE_HZ = 22050
OWN = 200
"""Programs from here on are played here: 200 voice, 201 bass, 202 stab, 203 pluck, 204 pad, 205 lead."""

DELAYS = {200: 0.03, 201: 0.0, 202: 0.0, 203: 0.0, 204: 0.05, 205: 0.005}
"""How much later than their beginning these are heard to start; the pad's and the voice's attacks are made to fit."""

Sound = np.ndarray


def noise(rng: np.random.Generator, seconds: float, low: float, high: float) -> Sound:
    """Return noise between two frequencies."""
    b, a = butter(2, [low / (RATE_HZ / 2), min(high / (RATE_HZ / 2), 0.98)], "band")
    return np.asarray(lfilter(b, a, rng.normal(0, 1, round(seconds * RATE_HZ))))


def fall(seconds: float, decay: float) -> Sound:
    """Return an exponential decay that starts within 1 ms."""
    t = np.arange(round(seconds * RATE_HZ)) / RATE_HZ
    return np.exp(-t / decay) * np.minimum(t / 0.001, 1)


def sweep(seconds: float, start: float, end: float, speed: float) -> Sound:
    """Return a sine that falls from one frequency to another."""
    t = np.arange(round(seconds * RATE_HZ)) / RATE_HZ
    return np.sin(2 * np.pi * np.cumsum(end + (start - end) * np.exp(-t / speed)) / RATE_HZ)


def draw_kit(rng: np.random.Generator) -> dict[str, Sound]:
    """Draw a drum kit: every stroke's sound with parameters of its own."""
    u = rng.uniform

    def drum(start: float, end: float, decay: float, click: float) -> Sound:
        body = sweep(0.6, start, end, u(0.015, 0.05)) * fall(0.6, decay)
        body[: round(0.02 * RATE_HZ)] += click * noise(rng, 0.02, 800, 8000) * fall(0.02, 0.004)
        return body

    def metal(decay: float, low: float, amount: float = 0.4) -> Sound:
        t = np.arange(round(min(decay * 5, 1.5) * RATE_HZ)) / RATE_HZ
        tones = sum(np.sign(np.sin(2 * np.pi * f * t + u(0, 6))) for f in u(2500, 7500, 5)) * 0.2
        return (noise(rng, len(t) / RATE_HZ, low, 10500)[: len(t)] + amount * tones) * fall(len(t) / RATE_HZ, decay)[
            : len(t)
        ]

    snare = 0.7 * drum(u(220, 320), u(150, 210), u(0.05, 0.12), 0.5)[: round(0.4 * RATE_HZ)] + u(0.5, 1.2) * noise(
        rng, 0.4, u(800, 2000), 9500
    ) * fall(0.4, u(0.05, 0.14))
    clap = sum(
        np.pad(noise(rng, 0.25, 700, 5000) * fall(0.25, 0.012 if k < 3 else 0.07), (round(k * 0.009 * RATE_HZ), 0))[
            : round(0.25 * RATE_HZ)
        ]
        for k in range(4)
    )
    brush = (
        noise(rng, 0.25, 1500, 9000)
        * np.minimum(np.arange(round(0.25 * RATE_HZ)) / (0.008 * RATE_HZ), 1)
        * fall(0.25, 0.06)
    )
    cow = np.sign(np.sin(2 * np.pi * u(500, 600) * np.arange(5000) / RATE_HZ)) + np.sign(
        np.sin(2 * np.pi * u(780, 880) * np.arange(5000) / RATE_HZ)
    )
    kit = {
        "kick": drum(u(110, 220), u(40, 65), u(0.08, 0.25), u(0, 0.7)),
        "snare": snare,
        "hat": 0.5 * metal(u(0.015, 0.04), 6000),
        "open": 0.5 * metal(u(0.1, 0.3), 5500),
        "clap": clap,
        "ride": 0.35 * metal(u(0.2, 0.5), 4500, 0.8),
        "crash": 0.6 * metal(u(0.4, 0.8), 3000),
        "tom": drum(u(150, 220), u(110, 150), u(0.1, 0.25), 0.3),
        "lowtom": drum(u(110, 150), u(70, 100), u(0.12, 0.3), 0.3),
        "rim": 0.6 * noise(rng, 0.06, 1500, 6000) * fall(0.06, 0.008)
        + 0.5 * sweep(0.06, 1700, 1600, 0.05) * fall(0.06, 0.01),
        "shaker": 0.35 * noise(rng, 0.09, 4500, 10500) * np.hanning(round(0.09 * RATE_HZ)),
        "cow": 0.25 * cow * fall(5000 / RATE_HZ, 0.06),
        "conga": drum(u(300, 420), u(200, 330), u(0.06, 0.16), 0.3),
        "tamb": 0.4 * metal(u(0.04, 0.1), 6500),
        "timp": drum(u(95, 130), u(70, 110), u(0.3, 0.6), 0.1),
        "taiko": drum(u(110, 160), u(55, 85), u(0.2, 0.5), 0.3),
        "surdo": drum(u(80, 110), u(50, 70), u(0.15, 0.35), 0.1),
        "brush": 0.5 * brush,
        "burst": noise(rng, 0.2, u(100, 1500), u(3000, 10500)) * fall(0.2, u(0.01, 0.05)),
        "tri": 0.3 * sweep(0.6, 5000, 4980, 0.3) * fall(0.6, 0.3),
    }
    return {
        name: (
            sound / (np.abs(sound).max() + 1e-9) * (0.9 if name in {"kick", "snare", "clap", "taiko", "tom"} else 0.45)
        ).astype(np.float32)
        for name, sound in kit.items()
    }


def beat_drums(rng: np.random.Generator, hits: list[tuple[float, str, float]], seconds: float) -> Sound:
    """Play strokes of (time, name, loudness) on a kit drawn for them."""
    kit = draw_kit(rng)
    out = np.zeros(round(seconds * RATE_HZ) + 2 * RATE_HZ, np.float32)
    for time, name, loud in hits:
        at = round(time * RATE_HZ)
        if at < len(out) - 2 * RATE_HZ:
            sound = kit[name]
            out[at : at + len(sound)] += np.float32(loud) * sound
    return out[: round(seconds * RATE_HZ)]


def draw_wave(rng: np.random.Generator, partials: int) -> Sound:
    """Draw one period of a tone: partials that fall off, some left out."""
    number = np.arange(1, partials + 1)
    level = number ** -rng.uniform(0.7, 1.8) * np.where(rng.random(partials) < rng.choice([1.0, 0.6]), 1, 0.1)
    if rng.random() < 0.25:
        level[1::2] *= 0.05
    phase = 2 * np.pi * np.arange(2048) / 2048
    wave = (level[:, None] * np.sin(number[:, None] * phase + rng.uniform(0, 6, partials)[:, None])).sum(axis=0)
    return (wave / np.abs(wave).max()).astype(np.float32)


def play_own(
    rng: np.random.Generator, program: int, notes: list[tuple[float, float, int, int, int]], seconds: float
) -> Sound:
    """Play the notes of one part with a voice of our own."""
    if program == OWN:
        return sing(rng, notes, seconds)
    out = np.zeros(round(seconds * RATE_HZ), np.float32)
    waves = {top: draw_wave(np.random.default_rng(rng.integers(1 << 30)), top) for top in (4, 10, 24)}
    attack = {201: 0.004, 202: 0.003, 203: 0.001, 204: rng.uniform(0.08, 0.15), 205: 0.01}[program]
    decay = {
        201: rng.uniform(0.15, 1.0),
        202: rng.uniform(0.08, 0.5),
        203: rng.uniform(0.08, 0.6),
        204: 9.0,
        205: rng.uniform(0.5, 4),
    }[program]
    detune = rng.uniform(0, 0.006)
    drop = 12 if program == 201 and rng.random() < 0.3 else 0
    for start, end, pitch, velocity, _ in notes:
        at = round(start * RATE_HZ)
        length = min(round((end - start + 0.06) * RATE_HZ), len(out) - at)
        if length < 50:
            continue
        t = np.arange(length, dtype=np.float32) / RATE_HZ
        hz = 440 * 2 ** ((pitch - drop - 69) / 12)
        wave = waves[24 if hz < 300 else 10 if hz < 800 else 4]
        sound = wave[(t * (hz * 2048)).astype(np.int64) & 2047]
        if detune > 0.001:
            sound = 0.5 * (sound + wave[(t * (hz * (1 + detune) * 2048)).astype(np.int64) & 2047])
        level = np.minimum(t / attack, 1) * np.exp(-t / decay) * np.minimum((length / RATE_HZ - t) / 0.05, 1)
        out[at : at + length] += sound * level * np.float32((velocity / 127) ** 1.5 * 0.3)
    return out


FORMANTS = ((730, 1090, 2440), (530, 1840, 2480), (270, 2290, 3010), (570, 840, 2410), (300, 870, 2240))
"""The three lowest resonances of five vowels in hertz (Peterson & Barney 1952, men's means; from memory)."""


def sing(rng: np.random.Generator, notes: list[tuple[float, float, int, int, int]], seconds: float) -> Sound:
    """Sing one line: a buzz through the resonances of vowels, with glides, vibrato and a soft attack."""
    total = round(seconds * RATE_HZ)
    pitch = np.full(total, 60.0)
    level = np.zeros(total)
    vowel = np.zeros(total, int)
    last = 0
    glide = rng.uniform(0.02, 0.07)
    attack = rng.uniform(0.04, 0.09)
    breath = np.zeros(total)
    for start, end, note, velocity, _ in sorted(notes):
        a, b = round(start * RATE_HZ), min(round(end * RATE_HZ), total)
        if b - a < 400 or a < last - 2000:
            continue
        t = np.arange(b - a) / RATE_HZ
        before = pitch[a - 1] if a else note
        pitch[a:b] = (
            note
            + (before - note) * np.exp(-t / glide)
            + np.minimum(t, 0.5) * rng.uniform(0, 0.8) * np.sin(2 * np.pi * rng.uniform(4.8, 6.2) * t)
        )
        pitch[b:] = note
        level[a:b] = np.minimum(t / attack, 1) * np.minimum((b - a) / RATE_HZ / 0.06 - t / 0.06, 1) * (velocity / 127)
        vowel[a:b] = rng.integers(5)
        if rng.random() < 0.5:
            c = max(a - round(rng.uniform(0.02, 0.08) * RATE_HZ), 0)
            breath[c:a] = rng.uniform(0.1, 0.5) * (velocity / 127)
        last = b
    hz = 440 * 2 ** ((pitch - 69) / 12)
    phase = np.cumsum(hz) / RATE_HZ
    buzz = 2 * (phase - np.floor(phase)) - 1 + 0.05 * rng.normal(0, 1, total)
    buzz = np.asarray(lfilter([1 - 0.7], [1, -0.7], buzz))
    scale = rng.uniform(0.95, 1.25)
    out = np.zeros(total)
    for number, formants in enumerate(FORMANTS):
        here = vowel == number
        if not here.any():
            continue
        mask = np.asarray(lfilter(np.ones(441) / 441, [1.0], here.astype(float)))
        for f, width, gain in zip(formants, (80, 110, 160), (1.0, 0.5, 0.25), strict=True):
            r = np.exp(-np.pi * width / RATE_HZ)
            out += (
                mask
                * gain
                * np.asarray(lfilter([1 - r], [1, -2 * r * np.cos(2 * np.pi * f * scale / RATE_HZ), r * r], buzz))
            )
    hiss = breath * rng.normal(0, 0.15, total)
    return ((out * level * 2.0) + hiss).astype(np.float32)
