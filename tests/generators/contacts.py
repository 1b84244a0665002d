"""Invented sounds of contacts and syllables with exactly known beginnings, alone and in a tune through a room."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from tempo_coach.music.files.sound import Sound

RATE_HZ = 48_000


def rope(rng: np.random.Generator) -> np.ndarray:
    """A rope on the floor: a slap of noise, and a short thump below it."""
    t = np.arange(round(0.12 * RATE_HZ)) / RATE_HZ
    slap = _band(rng.normal(size=t.size), 500, 5000) * np.exp(-t / rng.uniform(0.008, 0.02))
    thump = 0.5 * np.sin(2 * np.pi * rng.uniform(90, 140) * t) * np.exp(-t / 0.03)
    return _level(slap / np.abs(slap).max() + thump)


def clap(rng: np.random.Generator) -> np.ndarray:
    """Two hands: a few milliseconds of noise around 1 to 3 kHz."""
    t = np.arange(round(0.08 * RATE_HZ)) / RATE_HZ
    return _level(_band(rng.normal(size=t.size), 700, 6000) * np.exp(-t / rng.uniform(0.004, 0.009)))


def foot(rng: np.random.Generator) -> np.ndarray:
    """A foot on a board: its low tones, and the tick of the heel."""
    t = np.arange(round(0.15 * RATE_HZ)) / RATE_HZ
    low = sum(np.sin(2 * np.pi * f * t) * np.exp(-t / 0.035) for f in rng.uniform(120, 420, 3))
    tick = _band(rng.normal(size=t.size), 800, 3000) * np.exp(-t / 0.004)
    return _level(low / 3 + 0.6 * tick / np.abs(tick).max())


class Syllable(NamedTuple):
    """Samples of a "ta", and the second at which its vowel has risen half."""

    samples: np.ndarray
    vowel: float


def ta(rng: np.random.Generator) -> Syllable:
    """A burst, a breath and a vowel of a woman (formants of Peterson & Barney 1952, rounded, from memory)."""
    from scipy.signal import lfilter

    breath, rise = rng.uniform(0.04, 0.08), rng.uniform(0.015, 0.03)
    n, begin = round(0.32 * RATE_HZ), round(breath * RATE_HZ)
    burst = np.zeros(n)
    burst[: round(0.006 * RATE_HZ)] = rng.normal(size=round(0.006 * RATE_HZ))
    burst[:begin] += 0.15 * rng.normal(size=begin)
    burst = _band(burst, 3200, 9000)
    pitch = rng.uniform(180, 320) * (1 - 0.15 * np.arange(n - begin) / n)
    pulses = np.diff(np.floor(np.cumsum(pitch) / RATE_HZ), prepend=0.0)
    for formant, width in ((850, 90), (1250, 110), (2800, 160)):
        radius = np.exp(-np.pi * width / RATE_HZ)
        pulses = lfilter([1], [1, -2 * radius * np.cos(2 * np.pi * formant / RATE_HZ), radius**2], pulses)
    t = np.arange(n - begin) / RATE_HZ
    vowel = pulses / np.abs(pulses).max() * np.minimum(t / rise, 1) * np.exp(-np.maximum(t - 0.1, 0) / 0.06)
    out = 0.35 * burst / np.abs(burst).max()
    out[begin:] += vowel
    return Syllable(_level(out), breath + rise / 2)


SOUNDS = {"contact": rope, "clap": clap, "foot": foot}


class Recorded(NamedTuple):
    """A recording, what was played in it, and where each sound truly began, in seconds of the recording."""

    recording: np.ndarray
    played: np.ndarray
    onsets: np.ndarray
    before: float


def record(
    kind: str,
    played: np.ndarray,
    times: np.ndarray,
    seed: int,
    *,
    over_music_db: float = 10.0,
    before: float = 0.25,
    room_s: float = 0.5,
    noise_db: float = -35.0,
    distortion: float = 0.15,
    ppm: float = 0.0,
    pumping_db: float = 0.0,
) -> Recorded:
    """What a microphone hears: the played sound through a room, and a sound at each of some times of it.

    Parameters
    ----------
    kind : str
        A key of ``SOUNDS``, or voice.
    played : numpy.ndarray, shape (n,) or (n, 2)
        At ``RATE_HZ``.
    times : numpy.ndarray
        Seconds of what was played.
    over_music_db : float
        How far the loudest 20 ms of each sound lie over the root mean square of the music as recorded.
    before : float
        By how many seconds the recording begins earlier.
    room_s : float
        Seconds in which echoes fall by 60 dB.
    noise_db : float
        Hiss of the microphone against the music.
    distortion : float
        How much the loudspeaker bends its highest samples: no filter of what was played explains that.
    ppm : float
        By how many millionths the recording's clock runs fast.
    pumping_db : float
        By how much the recorder turns its loudness up and down, from crest to trough, every seven seconds.
    """
    rng = np.random.default_rng(seed)
    mono = played.mean(axis=1) if played.ndim == 2 else played
    rate = 1 + ppm * 1e-6
    if ppm:
        mono = np.interp(np.arange(round(len(mono) * rate)) / rate, np.arange(len(mono)), mono)
    top = float(np.abs(mono).max()) or 1.0
    mono = mono - distortion * top * (mono / top) ** 3
    wet = _through_room(mono, rng, room_s)
    n = round(before * RATE_HZ) + len(wet)
    out = np.zeros(n)
    out[n - len(wet) :] += wet
    rms = float(np.sqrt(np.mean(wet[np.abs(wet) > 0] ** 2))) if wet.any() else 0.01
    onsets = []
    for time in times:
        wave, late = ta(rng) if kind == "voice" else (SOUNDS[kind](rng), 0.0)
        at = round((before + time * rate) * RATE_HZ)
        level = rms * 10 ** ((over_music_db + rng.normal(0, 1.5)) / 20)
        wave = _through_room(level * wave, rng, room_s * 0.7, wet_share=0.15)
        part = out[at : at + len(wave)]
        part += wave[: len(part)]
        onsets.append(at / RATE_HZ + late)
    out += rms * 10 ** (noise_db / 20) * rng.normal(size=n)
    out *= 10 ** (pumping_db / 40 * np.sin(2 * np.pi * np.arange(n) / RATE_HZ / 7))
    return Recorded((0.5 * out / np.abs(out).max()).astype(np.float32), played, np.array(onsets), before)


def quiet_and_sample(kind: str, seed: int) -> tuple[Sound, Sound]:
    """A second and a half of a room in which nothing is done, and the sound four times."""
    rng = np.random.default_rng(seed)
    quiet, sample = (0.002 * rng.normal(size=round(s * RATE_HZ)) for s in (1.5, 3.0))
    for time in (0.4, 1.0, 1.7, 2.3):
        wave = ta(rng).samples if kind == "voice" else SOUNDS[kind](rng)
        wave = _through_room(0.1 * 10 ** (rng.normal(0, 2) / 20) * wave, rng, 0.4, wet_share=0.15)
        part = sample[round(time * RATE_HZ) :][: len(wave)]
        part += wave[: len(part)]
    return Sound(quiet[:, np.newaxis], RATE_HZ), Sound(sample[:, np.newaxis], RATE_HZ)


def _through_room(wave: np.ndarray, rng: np.random.Generator, room_s: float, *, wet_share: float = 0.5) -> np.ndarray:
    from scipy.signal import fftconvolve

    t = np.arange(round(room_s * RATE_HZ)) / RATE_HZ
    echoes = rng.normal(size=t.size) * 10 ** (-3 * t / room_s)
    echoes[: round(0.003 * RATE_HZ)] = 0
    echoes *= np.sqrt(wet_share / (echoes**2).sum())
    echoes[0] = 1
    return fftconvolve(wave, echoes)[: len(wave) + round(0.2 * RATE_HZ)]


def _band(wave: np.ndarray, low: float, high: float) -> np.ndarray:
    from scipy.signal import butter, sosfilt

    return sosfilt(butter(2, (low, high), btype="bandpass", fs=RATE_HZ, output="sos"), wave)


def _level(wave: np.ndarray) -> np.ndarray:
    """With a root mean square of 1 in its loudest 20 ms."""
    power = np.concatenate([[0.0], np.cumsum(wave**2)])
    length = min(round(0.02 * RATE_HZ), len(wave))
    return wave / np.sqrt((power[length:] - power[:-length]).max() / length)
