"""Onsets from sound: contacts, claps, feet and syllables in a recording of the music and cues that were played.

Everything is synthesised from fixed seeds with exact truth (tests/generators/contacts.py, hall.py): a tune with clicked
or spoken counts through a loudspeaker that distorts, a room, a microphone that hisses. The sounds fall on the counts,
off by 30 ms (SD): where the music and the cues are loudest, as she does it.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from tempo_coach.live.mixing.mix import load_cue_sounds
from tempo_coach.live.mixing.spoken import find_voice, load_words
from tempo_coach.music.files.sound import Sound
from tempo_coach.observe.observers import SOUNDS
from tempo_coach.observe.sound.alignment import align
from tempo_coach.observe.sound.detector import calibrate_detector, find_in_residual
from tempo_coach.observe.sound.kinds import Detector, make_detector
from tempo_coach.observe.sound.residual import remove_played
from tempo_coach.observe.take.clock import ClockLine
from tests.benchmarks.table import Row
from tests.generators import contacts, hall

if TYPE_CHECKING:
    from collections.abc import Iterator

SECONDS = 40.0
SEEDS = 8
FEWER = 3
RATE_HZ = contacts.RATE_HZ
#: Seconds around a true onset within which one that was found is its own.
REACH = 0.05
#: How the recording is made harder, beside the usual room (echoes fall by 60 dB in half a second).
HARDER: dict[str, dict[str, float]] = {
    "a hall of 1.8 s": {"room_s": 1.8},
    "a clock 100 ppm fast": {"ppm": 100.0},
    "a phone that turns its loudness": {"pumping_db": 6.0},
    "a loudspeaker that distorts much": {"distortion": 0.33},
    "sounds as loud as the music (0 dB)": {"over_music_db": 0.0},
}


class Found(NamedTuple):
    """What was found of what was done: errors in ms of the pairs, and how many were done, false, and cued."""

    errors: np.ndarray
    done: int
    false: int
    cues: int


def run() -> Iterator[Row]:
    """Measure everything."""
    for kind in SOUNDS:
        yield from _usual(kind)
    for name, how in HARDER.items():
        for kind in SOUNDS:
            (found,) = _listen(kind, FEWER, make_detector(kind), **how)
            yield Row(f"{kind}, {name}: found", 100 * len(found.errors) / found.done, "%", better="high")
            yield Row(f"{kind}, {name}: false", 100 * found.false / found.done, "%")
            yield Row(f"{kind}, {name}: 95 of 100 within", _within(found, 0.95), "ms")
    for kind in SOUNDS:
        (found,) = _listen(kind, FEWER, make_detector(kind), quiet=True)
        yield Row(f"{kind}, nothing done, {found.cues} cues: false a cue", 100 * found.false / found.cues, "%", 1, 0)
    for kind in ("contact", "voice"):
        (found,) = _listen(kind, FEWER, make_detector(kind), aligned=True, room_s=1.2, ppm=60.0)
        yield Row(
            f"{kind}, put on the music by its sound: found", 100 * len(found.errors) / found.done, "%", 98, 100, "high"
        )
        yield Row(f"{kind}, put on the music by its sound: 95 of 100 within", _within(found, 0.95), "ms")


def _usual(kind: str) -> Iterator[Row]:
    detectors = {
        "by itself": make_detector(kind),
        "learned": calibrate_detector(make_detector(kind), *contacts.quiet_and_sample(kind, 77)),
    }
    for way, found in zip(detectors, _listen(kind, SEEDS, *detectors.values()), strict=True):
        name = f"{kind}, 10 dB over the music, {way}"
        yield Row(f"{name}: found", 100 * len(found.errors) / found.done, "%", 98, 100, "high")
        yield Row(f"{name}: false", 100 * found.false / found.done, "%", 1, 0)
        if way == "by itself":
            floor = None if kind == "voice" else 3
            yield Row(f"{name}: median error", _within(found, 0.5), "ms", floor, None if kind == "voice" else 1)
            yield Row(f"{name}: 95 of 100 within", _within(found, 0.95), "ms", floor)
            yield Row(f"{name}: late by (mean)", float(np.mean(found.errors)), "ms")
            yield Row(f"{name}: SD", float(np.std(found.errors, ddof=1)), "ms")


def _listen(
    kind: str, seeds: int, *detectors: Detector, quiet: bool = False, aligned: bool = False, **how: float
) -> list[Found]:
    """What each ear finds in some recordings of one kind."""
    found = [Found(np.zeros(0), 0, 0, 0)] * len(detectors)
    for seed in range(seeds):
        played, counts = play(seed)
        rng = np.random.default_rng(900 + seed)
        times = counts[2::2] + rng.normal(0, 0.03, len(counts[2::2]))
        made = contacts.record(kind, played, times[:0] if quiet else times, seed, **how)
        recording, music = Sound(made.recording[:, np.newaxis], RATE_HZ), Sound(played[:, np.newaxis], RATE_HZ)
        # the rate of the clocks is not told: it is found from the sound
        line = align(recording, music).line if aligned else ClockLine(made.before, 0.0, 1.0, 0.0, 2)
        residual = remove_played(recording, music, line)
        for k, detector in enumerate(detectors):
            errors, extra = pair(made.onsets, find_in_residual(residual, detector).time)
            before = found[k]
            found[k] = Found(
                np.concatenate([before.errors, 1000 * np.array(errors)]),
                before.done + len(made.onsets),
                before.false + extra,
                before.cues + len(counts),
            )
    return found


def play(seed: int) -> tuple[np.ndarray, np.ndarray]:
    """A tune with a click, or a spoken number, on each count: its samples and the counts."""
    tempo_bpm = float(np.random.default_rng(seed).uniform(80, 150))
    wave = 0.4 * hall.tune(seed, SECONDS, tempo_bpm=tempo_bpm, drums=seed % 2 == 0, rate_hz=RATE_HZ)
    counts = np.arange(1, int((SECONDS - 2) * tempo_bpm / 60)) * 60 / tempo_bpm
    clicks, words = load_cue_sounds(RATE_HZ), list(load_words(find_voice(None), RATE_HZ).values())
    for number, count in enumerate(counts):
        sound, lead = (clicks["one" if number % 8 == 0 else "count"], 0) if seed % 4 < 2 else words[number % 8]
        at = round(count * RATE_HZ) - lead
        part = wave[at : at + len(sound.samples)]
        part += 0.5 * sound.samples[: len(part), 0]
    return wave, counts


def pair(true: np.ndarray, found: np.ndarray) -> tuple[list[float], int]:
    """Errors (s) of what was found within reach of a true onset, one to one, and how many were found elsewhere."""
    left = list(found)
    errors = []
    for time in true:
        nearest = min(left, key=lambda each: abs(each - time), default=np.inf)
        if abs(nearest - time) <= REACH:
            left.remove(nearest)
            errors.append(nearest - time)
    return errors, len(left)


def _within(found: Found, share: float) -> float:
    return float(np.quantile(np.abs(found.errors), share)) if len(found.errors) else float("nan")
