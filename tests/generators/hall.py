"""Invented music, and how a phone in a hall hears it: echoes, a crowd, another clock. Exact truth, fixed seeds."""

from __future__ import annotations

from functools import cache

import numpy as np

RATE_HZ = 16_000


def tune(
    seed: int, seconds: float, *, tempo_bpm: float = 116.0, drums: bool = True, rate_hz: int = RATE_HZ
) -> np.ndarray:
    """A tune of plucked notes, chords and noise drums, shape (n,). Its notes are drawn, so no two bars are alike."""
    rng = np.random.default_rng(seed)
    n = round(seconds * rate_hz)
    out = np.zeros(n + 3 * rate_hz)
    beat = 60 / tempo_bpm
    scale = 220 * 2 ** (np.array([0, 2, 4, 5, 7, 9, 11, 12, 14, 16]) / 12)
    for k in range(int(seconds / beat * 2)):
        at = round(k * beat / 2 * rate_hz)
        if rng.random() < 0.7:
            _add(out, at, _pluck(rng.choice(scale), 0.6, rate_hz), 0.3)
        if k % 4 == 0:
            for note in rng.choice(scale[:7], 3, replace=False):
                _add(out, at, _pluck(note / 2, 1.5, rate_hz), 0.2)
        if drums and k % 2 == 0:
            hit = rng.standard_normal(rate_hz // 10) * np.exp(-np.arange(rate_hz // 10) / rate_hz / 0.02)
            _add(out, at, hit, 0.15)
    return (out[:n] / np.abs(out[:n]).max()).astype(np.float32)


@cache
def _pluck(frequency: float, length: float, rate_hz: int) -> np.ndarray:
    t = np.arange(round(length * rate_hz)) / rate_hz
    return sum(np.sin(2 * np.pi * h * frequency * t) / h**1.2 * np.exp(-t * (2 + h)) for h in range(1, 8))


def _add(out: np.ndarray, at: int, wave: np.ndarray, level: float) -> None:
    part = out[at : at + len(wave)]
    part += level * wave[: len(part)]


def through_hall(
    music: np.ndarray,
    seed: int,
    *,
    before: float = 3.0,
    noise_db: float = 0.0,
    reverb_s: float = 1.8,
    direct_db: float = -3.0,
    ppm: float = 60.0,
    rate_hz: int = RATE_HZ,
) -> np.ndarray:
    """What the phone records: ``before`` seconds without music, then the music, its direct sound at ``before``.

    Parameters
    ----------
    noise_db : float
        Level of the crowd over that of the music with its echoes.
    reverb_s : float
        Seconds in which echoes fall by 60 dB.
    direct_db : float
        Energy of the direct sound over that of all echoes.
    ppm : float
        By how much the phone's clock runs fast: music second m is at ``before + m * (1 + ppm / 1e6)``.
    """
    from scipy.signal import butter, fftconvolve, sosfilt

    rng = np.random.default_rng(seed)
    n = len(music)
    t = np.arange(int(n * (1 + ppm * 1e-6)) + 1) / (1 + ppm * 1e-6)
    played = _read_between(music, t)
    tail = np.arange(round(reverb_s * rate_hz)) / rate_hz
    echoes = rng.standard_normal(tail.size) * 10 ** (-3 * tail / reverb_s)
    quiet = round(0.004 * rate_hz)
    echoes[:quiet] = 0
    echoes *= np.sqrt(10 ** (-direct_db / 10) / (echoes**2).sum())
    echoes[0] = 1
    wet = fftconvolve(played, echoes)[: len(played) + rate_hz]
    out = np.zeros(round(before * rate_hz) + len(wet))
    out[round(before * rate_hz) :] = wet
    crowd = sosfilt(butter(1, [150, 2500], btype="bandpass", fs=rate_hz, output="sos"), rng.standard_normal(out.size))
    swell = 1 + 0.5 * np.sin(2 * np.pi * np.arange(out.size) / rate_hz * 0.3 + rng.uniform(0, 6))
    crowd *= swell
    crowd *= np.sqrt(np.mean(wet[: len(played)] ** 2) / np.mean(crowd**2)) * 10 ** (noise_db / 20)
    out += crowd
    return (0.5 * out / np.abs(out).max()).astype(np.float32)


def _read_between(wave: np.ndarray, at: np.ndarray) -> np.ndarray:
    """Read a wave at fractions of samples by a cubic spline; the waves here hold little near half the rate."""
    from scipy.interpolate import CubicSpline

    return CubicSpline(np.arange(len(wave)), wave)(np.clip(at, 0, len(wave) - 1))
