"""Recordings, halls and loudspeakers as they change music: one filter for room, tone, speed, then level, noise."""

from __future__ import annotations

import numpy as np
from scipy.fft import irfft, next_fast_len, rfft
from scipy.signal import lfilter

RATE_HZ = 22050


def draw_room(rng: np.random.Generator) -> np.ndarray:
    """Draw the response of a room or hall: the direct sound, some echoes, and a tail that decays."""
    seconds = rng.choice([0.3, 0.6, 1.0, 1.8, 2.8]) * rng.uniform(0.7, 1.3)
    tail = rng.normal(0, 1, round(seconds * RATE_HZ))
    t = np.arange(len(tail)) / RATE_HZ
    tail *= np.exp(-6.9 * t / seconds) * (t > rng.uniform(0.002, 0.03))
    tail = np.asarray(lfilter([rng.uniform(0.2, 0.9)], [1, -rng.uniform(0.1, 0.8)], tail))
    tail *= rng.choice([0.15, 0.3, 0.5, 0.9]) * rng.uniform(0.6, 1.2) / np.sqrt((tail**2).sum() + 1e-9)
    for _ in range(int(rng.integers(0, 5))):
        tail[int(rng.integers(50, min(2500, len(tail))))] += rng.normal(0, 0.25)
    tail[0] = 1.0
    return tail


def draw_tone(rng: np.random.Generator, hz: np.ndarray) -> np.ndarray:
    """Draw a tone control: broad bumps in dB over the logarithm of frequency, and now and then a narrow loudspeaker."""
    octave = np.log2(np.maximum(hz, 20) / 20)
    points = np.arange(11)
    level = np.interp(octave, points, np.cumsum(rng.normal(0, rng.choice([0.5, 1.5, 3.0]), 11)))
    level -= level.mean()
    chance = rng.random()
    if chance < 0.15:
        low, high = rng.uniform(80, 350), rng.uniform(3000, 7000)
        level -= 12 * np.maximum(np.log2(low / np.maximum(hz, 20)), 0) + 18 * np.maximum(
            np.log2(np.maximum(hz, 20) / high), 0
        )
    elif chance < 0.3:
        level -= 24 * np.maximum(np.log2(np.maximum(hz, 20) / rng.uniform(3500, 9000)), 0)
    return 10 ** (np.maximum(level, -60) / 20)


def squeeze(rng: np.random.Generator, x: np.ndarray) -> np.ndarray:
    """Press the level together as a radio or a loud master does."""
    step = 64
    power = np.add.reduceat(x**2, np.arange(0, len(x), step)) / step
    keep = np.exp(-step / RATE_HZ / rng.uniform(0.02, 0.3))
    level = np.sqrt(np.asarray(lfilter([1 - keep], [1, -keep], power)) + 1e-8)
    gain = np.minimum((level / np.percentile(level, rng.uniform(20, 70))) ** -rng.uniform(0.3, 0.8), 4.0)
    return x * np.interp(np.arange(len(x)), np.arange(len(gain)) * step, gain)


def draw_crowd(rng: np.random.Generator, length: int) -> np.ndarray:
    """Draw what else is heard in a gym: hiss, hum, a murmuring hall, a few claps."""
    spectrum = rfft(rng.normal(0, 1, next_fast_len(length)).astype(np.float32))
    hz = np.linspace(1, RATE_HZ / 2, len(spectrum))
    slope = rng.uniform(0, 1.2)
    crowd = np.asarray(irfft(spectrum * hz**-slope))[:length]
    if rng.random() < 0.5:
        murmur = np.interp(np.arange(length), np.arange(0, length + 2205, 2205), rng.gamma(2, 1, length // 2205 + 2))
        crowd = crowd * murmur
    crowd = crowd / (np.sqrt((crowd**2).mean()) + 1e-12)
    if rng.random() < 0.2:
        for at in rng.integers(0, max(length - 2000, 1), int(rng.integers(3, 60))):
            crowd[at : at + 1500] += rng.uniform(1, 8) * rng.normal(0, 1, 1500) * np.exp(-np.arange(1500) / 250)
    if rng.random() < 0.2:
        crowd += 0.7 * np.sin(2 * np.pi * 50 * np.arange(length) / RATE_HZ)
    return crowd


def spoil(rng: np.random.Generator, clean: np.ndarray, rate_hz: float, seconds: float) -> tuple[np.ndarray, float]:
    """Return music at `RATE_HZ` as it might reach a file, and how much faster it got (its pitch as well).

    One transform does the change of rate, of speed, the room and the tone.
    """
    speed = float(rng.uniform(0.935, 1.07)) if rng.random() < 0.5 else 1.0
    padded = next_fast_len(len(clean) + round(1.5 * rate_hz))
    spectrum = rfft(np.asarray(clean, np.float32), padded)
    length = 2 * next_fast_len(round(padded * RATE_HZ / rate_hz / speed / 2))
    speed = padded * RATE_HZ / rate_hz / length
    spectrum = (
        spectrum[: length // 2 + 1]
        if length // 2 + 1 <= len(spectrum)
        else np.pad(spectrum, (0, length // 2 + 1 - len(spectrum)))
    )
    hz = np.linspace(0, RATE_HZ / 2, length // 2 + 1)
    if rng.random() < 0.7:
        spectrum = spectrum * draw_tone(rng, hz).astype(np.float32)
    if rng.random() < 0.55:
        spectrum = spectrum * rfft(draw_room(rng).astype(np.float32), length)
    x = np.asarray(irfft(spectrum, length))[: round(seconds * RATE_HZ)]
    x = np.pad(x, (0, round(seconds * RATE_HZ) - len(x)))
    level = np.sqrt((x**2).mean()) + 1e-9
    x = x / level * 0.1
    if rng.random() < 0.35:
        x = squeeze(rng, x)
    if rng.random() < 0.2:
        drive = rng.uniform(1, 6)
        x = np.tanh(x * drive) / drive if rng.random() < 0.6 else np.clip(x, -0.3 / drive, 0.3 / drive)
    if rng.random() < 0.5:
        x = x + np.sqrt((x**2).mean()) * 10 ** (-rng.uniform(8, 45) / 20) * draw_crowd(rng, len(x))
    return x.astype(np.float32), speed
