"""A group recorded in a hall by a phone each: music from one loudspeaker, everybody's claps in everybody's phone.

Nothing of it is shared with what the detectors were made on: its own music, claps, vowels, room, clocks and people. All
in seconds and metres; 1 / 344 s a metre is the speed of sound in a hall of 20 °C.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy.signal import fftconvolve, lfilter

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Wave = NDArray[np.float64]

MEMBERS = ("Ada", "Bea", "Cyl", "Dora", "Eva", "Fay", "Gil", "Hal", "Ida", "Jo")  # invented
RATE_HZ = 16_000
SPEED = 344.0
#: Counts of a take, and those of an eight.
COUNTS, EIGHT = 48, 8
#: Seconds before count 1 at which somebody claps once, where there is no music.
FIRST_CLAP = 3.0


@dataclass(frozen=True, eq=False)
class HallGroup:
    """What five phones recorded, and what is true.

    Parameters
    ----------
    music : numpy.ndarray
        As it was played, sample 0 being count 1.
    recordings : dict of member to numpy.ndarray
        At ``RATE_HZ`` of her phone's own clock.
    tempo_bpm : float
    asynchronies : numpy.ndarray, shape (m, COUNTS)
        Seconds between the music as heard at her place and her hands.
    metres : dict of member to float
        From the loudspeaker.
    begins : dict of member to float
        When her phone began, in seconds of the music.
    late : (member, eight, seconds) or None
        Who was late for one eight, from 1.
    """

    music: Wave
    recordings: dict[str, Wave]
    tempo_bpm: float
    asynchronies: NDArray[np.float64]
    metres: dict[str, float]
    begins: dict[str, float]
    late: tuple[str, int, float] | None


def record_group(
    seed: int,
    *,
    members: int = 5,
    late: bool = True,
    kind: str = "clap",
    in_turn: bool = False,
    first_clap: bool = False,
) -> HallGroup:
    """Return a group in a hall.

    Parameters
    ----------
    seed : int
    members : int
    late : bool
        Whether one of them is 120 to 250 ms late in one eight, not the first and not the last.
    kind : {"clap", "voice"}
    in_turn : bool
        Whether each claps on one count of each eight alone, the first on 1, the second on 2; what she does not do is
        NaN in ``asynchronies``.
    first_clap : bool
        Whether no music is played, and somebody 3 to 8 m away claps once ``FIRST_CLAP`` seconds before count 1.
    """
    rng = np.random.default_rng([seed, members, late])
    tempo = float(rng.uniform(96, 132))
    step = 60 / tempo
    length = COUNTS * step + 2.0
    music = _make_music(rng, step, length)
    lateness = np.array([_keep_time(rng) for _ in range(members)])
    who = None
    if late:
        row, eight = int(rng.integers(members)), int(rng.integers(2, COUNTS // EIGHT))
        by = float(rng.uniform(0.12, 0.25))
        lateness[row, (eight - 1) * EIGHT : eight * EIGHT] += by
        who = MEMBERS[row], eight, by
    if in_turn:
        lateness[np.arange(COUNTS) % EIGHT != np.arange(members)[:, None]] = np.nan
    metres, places = _scatter(rng, members)
    reverberation = float(rng.uniform(0.8, 1.8))
    clocks = 1e-6 * rng.permutation(np.linspace(-30, 30, members))
    begins = rng.uniform(-3.0, -0.3, members)
    begins[rng.integers(members)] = 8.0
    if first_clap:
        begins = rng.uniform(-9.0, -5.0, members)
    acts = np.arange(COUNTS) * step + (0.0 if first_clap else metres[:, None] / SPEED) + lateness
    strokes = [[_stroke(rng, kind, j) for _ in range(COUNTS)] for j in range(members)]
    recordings = {}
    for phone in range(members):
        end = length + 1.5
        total = round((end - begins[phone]) * RATE_HZ)
        heard = np.zeros(total)
        if not first_clap:
            heard = _play(rng, music, begins[phone], metres[phone], reverberation, clocks[phone], total)
        own = np.zeros(total)
        others = np.zeros(total)
        for j in range(members):
            apart = float(rng.uniform(0.3, 1.0)) if j == phone else float(np.linalg.norm(places[j] - places[phone]))
            into = own if j == phone else others
            for at, (wave, before) in zip(acts[j], strokes[j], strict=True):
                if np.isnan(at):
                    continue
                _add(into, (at - before + apart / SPEED - begins[phone]) * (1 + clocks[phone]), wave / apart)
        if first_clap:
            away = float(rng.uniform(3.0, 8.0))
            clap = 4.0 * _stroke(np.random.default_rng([seed, 7]), "clap", 0)[0] / away
            _add(others, (-FIRST_CLAP + away / SPEED - begins[phone]) * (1 + clocks[phone]), clap)
        level = _loudness(own)
        own, others = own / level, others / level
        claps = own + others + _reverberate(rng, own * 0.25 + others, reverberation, 0.5)
        wave = claps + heard + rng.standard_normal(total) * 0.01
        recordings[MEMBERS[phone]] = 0.3 * wave / np.abs(wave).max()
    by_member = [dict(zip(MEMBERS, each.tolist(), strict=False)) for each in (metres, begins)]
    return HallGroup(music, recordings, tempo, lateness, *by_member, who)


def _keep_time(rng: np.random.Generator) -> NDArray[np.float64]:
    """One who corrects a share of her lateness; clock 10, movement 8 ms, a habit of her own."""
    correction, off = rng.uniform(0.25, 0.5), 0.0
    out = []
    for k in range(COUNTS + 20):
        off = (1 - correction) * off + 0.010 * rng.standard_normal()
        if k >= 20:
            out.append(off + 0.008 * rng.standard_normal())
    return np.array(out) + rng.uniform(-0.03, 0.02)


def _make_music(rng: np.random.Generator, step: float, length: float) -> Wave:
    """Chords, a tune that does not repeat, and a drum on the counts."""
    out = np.zeros(round(length * RATE_HZ))
    roots = rng.integers(0, 12, 64)
    for count in range(int(length / step)):
        at = count * step
        root = 110 * 2 ** (roots[count // 4 % 64] / 12)
        if count % 4 == 0:
            for ratio in (1.0, 1.26, 1.498):
                _add(out, at, 0.25 * _tone(root * ratio, 4 * step, 1.6))
        for part in range(2):
            if rng.random() < 0.75:
                pitch = root * 4 * 2 ** (rng.choice([0, 2, 4, 5, 7, 9, 11]) / 12)
                _add(out, at + part * step / 2, 0.35 * _tone(pitch, step * 0.9, 0.25))
        noise = rng.standard_normal(round(0.12 * RATE_HZ)) * np.exp(
            -np.arange(round(0.12 * RATE_HZ)) / (0.03 * RATE_HZ)
        )
        drum = lfilter([0.12], [1, -0.88], noise) if count % 2 == 0 else noise - lfilter([0.4], [1, -0.6], noise)
        _add(out, at, (2.0 if count % 2 == 0 else 0.35) * drum)
    return 0.3 * out / np.abs(out).max()


def _tone(hertz: float, length: float, fade: float) -> Wave:
    t = np.arange(round(length * RATE_HZ)) / RATE_HZ
    rise = np.minimum(t / 0.006, 1.0)
    return sum(np.sin(2 * np.pi * hertz * k * t) / k**1.3 for k in range(1, 6)) * rise * np.exp(-t / fade)


def _stroke(rng: np.random.Generator, kind: str, who: int) -> tuple[Wave, float]:
    """A clap, noise in a hollow hand, or a syllable; and its seconds before the moment, the middle of its rise."""
    if kind == "clap":
        t = np.arange(round(0.06 * RATE_HZ)) / RATE_HZ
        wave = rng.standard_normal(t.size) * np.minimum(t / 0.0007, 1) * np.exp(-t / rng.uniform(0.005, 0.011))
        hollow = 2 * np.pi * rng.uniform(900, 2200) / RATE_HZ
        return lfilter([1.0], [1, -1.6 * np.cos(hollow), 0.64], wave) * rng.uniform(0.7, 1.3), 0.0
    t = np.arange(round(0.20 * RATE_HZ)) / RATE_HZ
    pitch = (205 + 18 * who) * 2 ** (rng.normal(0, 0.6) / 12)
    vowel = np.zeros(t.size)
    for k in range(1, 16):
        height = sum(np.exp(-(((pitch * k - f) / w) ** 2)) for f, w in ((850, 180), (1400, 220), (2900, 400)))
        vowel += (height + 0.02) * np.sin(2 * np.pi * pitch * k * t + rng.uniform(0, 6.28))
    rise = rng.uniform(0.015, 0.03)
    wave = vowel * np.clip(t / rise, 0, 1) * np.exp(-np.maximum(t - 0.09, 0) / 0.04)
    lead = round(rng.uniform(0.02, 0.04) * RATE_HZ)
    burst = np.zeros(lead + t.size)
    burst[:lead] = 0.15 * rng.standard_normal(lead) * np.exp(-np.arange(lead) / (0.006 * RATE_HZ))
    burst[lead:] += wave / np.abs(wave).max()
    # what comes before the middle of its rise is put before the moment
    return burst, lead / RATE_HZ + rise / 2


def _add(out: Wave, at: float, wave: Wave) -> None:
    exact = at * RATE_HZ
    first = int(np.floor(exact))
    share = exact - first
    moved = np.convolve(wave, [1 - share, share])
    a, b = max(first, 0), min(first + moved.size, out.size)
    if a < b:
        out[a:b] += moved[a - first : b - first]


def _play(
    rng: np.random.Generator, music: Wave, begin: float, metres: float, rt60: float, clock: float, total: int
) -> Wave:
    """The music in one phone, as loud as her own claps: direct sound, and a hall of its own for each place."""
    at = (np.arange(total) / RATE_HZ / (1 + clock) + begin - metres / SPEED) * RATE_HZ
    direct = np.interp(at, np.arange(music.size), music, left=0.0, right=0.0)
    # the reverberation is as loud as the direct sound at 5 m
    tail = _reverberate(rng, direct, rt60, 1.0)
    loud = np.sqrt(np.mean(tail**2)) or 1.0
    heard = direct + tail / loud * np.sqrt(np.mean(direct**2)) * max(metres, 1.0) / 5.0
    inside = np.abs(direct) > 0
    return heard / np.sqrt(np.mean(heard[inside] ** 2))


def _reverberate(rng: np.random.Generator, wave: Wave, rt60: float, level: float) -> Wave:
    t = np.arange(round(rt60 * RATE_HZ)) / RATE_HZ
    tail = rng.standard_normal(t.size) * np.exp(-6.9 * t / rt60) * (t > 0.004)
    tail = lfilter([0.5], [1, -0.5], tail)
    tail /= np.sqrt((tail**2).sum())
    return level * fftconvolve(wave, tail)[: wave.size]


def _loudness(wave: Wave) -> float:
    """RMS over the 50 ms behind each onset: what `as loud as the music` means here."""
    power = np.convolve(wave**2, np.ones(round(0.05 * RATE_HZ)) / round(0.05 * RATE_HZ), mode="same")
    loud = np.sort(power[power > 0.25 * power.max()])
    return float(np.sqrt(np.median(loud))) if loud.size else 1.0


def _scatter(rng: np.random.Generator, members: int) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return metres from the loudspeaker, and places at these on circles around it, 2 m or more from anybody.

    Two who are hardly a metre from it can never be as far from each other, so that others are drawn then.
    """
    while True:
        metres = rng.uniform(0.5, 14.0, members)
        for _ in range(500):
            angle = rng.uniform(0, np.pi, members)
            places = np.stack([metres * np.cos(angle), metres * np.sin(angle)], axis=1)
            apart = np.linalg.norm(places[:, None] - places[None], axis=2) + 9 * np.eye(members)
            if apart.min() >= 2.0:
                return metres, places
