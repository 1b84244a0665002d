"""Music as played: what is written, on a tempo that bends, with pauses, drums and a player's unevenness."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from tests.benchmarks.beat_set.written import Written

DRUMS = 9
#: Seconds after its start at which a note is heard, by instrument: a fifth of its loudness, measured on single notes.
#: Players begin that much earlier, so that beats are where they are heard.
HEARD_AFTER = {
    40: 0.04, 41: 0.03, 42: 0.05, 48: 0.02, 52: 0.015, 73: 0.04, 71: 0.035, 68: 0.02, 21: 0.025, 19: 0.015, 61: 0.015,
    29: 0.015,
}  # fmt: skip
#: Hits of a bar by half beats: pitch of the drum kit (General MIDI), places, velocity.
PATTERNS: dict[str, dict[int, list[tuple[int, list[float], int]]]] = {
    "rock": {
        4: [(36, [0, 2, 2.5], 110), (38, [1, 3], 105), (42, [0, 0.5, 1, 1.5, 2, 2.5, 3, 3.5], 75)],
        3: [(36, [0], 110), (38, [1, 2], 90), (42, [0, 0.5, 1, 1.5, 2, 2.5], 70)],
        2: [(36, [0], 110), (38, [1], 105), (42, [0, 0.5, 1, 1.5], 75)],
    },
    "disco": {
        4: [(36, [0, 1, 2, 3], 115), (38, [1, 3], 90), (46, [0.5, 1.5, 2.5, 3.5], 85)],
        3: [(36, [0, 1, 2], 115), (46, [0.5, 1.5, 2.5], 85)],
        2: [(36, [0, 1], 115), (46, [0.5, 1.5], 85)],
    },
    "push": {
        4: [(36, [0, 1.5, 2.5], 112), (38, [1, 3], 108), (42, [0, 0.5, 1, 1.5, 2, 2.5, 3, 3.5], 70), (54, [3.5], 80)],
        3: [(36, [0, 1.5], 110), (38, [2], 100), (42, [0, 1, 2], 70)],
        2: [(36, [0, 1.5], 110), (38, [1], 100), (42, [0.5, 1.5], 70)],
    },
    "soft": {
        4: [(36, [0, 2], 80), (37, [1, 3], 70), (44, [1, 3], 60)],
        3: [(36, [0], 80), (44, [1, 2], 65)],
        2: [(36, [0], 80), (44, [1], 65)],
    },
}


@dataclass(frozen=True)
class Played:
    """Notes of (start s, end s, pitch, velocity, channel), programs by channel, and the truth about beats."""

    notes: list[tuple[float, float, int, int, int]]
    programs: dict[int, int]
    beats: np.ndarray
    ones: np.ndarray
    pauses: list[tuple[float, float]]


def bend(kind: str, beats: int, bpm: float, rng: np.random.Generator, *, bar: int) -> np.ndarray:
    """Return how long each beat lasts, in seconds."""
    place = np.arange(beats) / max(1, beats - 1)
    period = np.full(beats, 60.0 / bpm)
    if kind == "ramp":
        period /= 1 + (rng.choice([-0.25, 0.25, 0.35])) * (place if rng.random() < 0.5 else np.sin(np.pi * place))
    elif kind == "step":
        cuts = np.sort(rng.choice(np.arange(beats // 5, beats - beats // 5), 2, replace=False))
        for cut in cuts:
            period[cut:] /= rng.choice([0.7, 0.8, 0.88, 1.15, 1.25, 1.4])
    elif kind in ("rubato", "free"):
        depth, noise = (0.10, 0.02) if kind == "rubato" else (0.20, 0.05)
        phrase = bar * int(rng.choice([2, 4]))
        within = np.arange(beats) % phrase / phrase
        period *= (
            1
            + depth
            * (2 * (2 * within - 1) ** 2 - 0.7)
            * rng.uniform(0.5, 1.3, beats // phrase + 1).repeat(phrase)[:beats]
        )
        wander = np.zeros(beats)
        for k in range(1, beats):
            wander[k] = 0.6 * wander[k - 1] + rng.normal(0, noise)
        period *= np.exp(wander)
        period[-4:] *= np.linspace(1.1, 1.6, 4)
    elif kind == "drift":
        wander = np.cumsum(rng.normal(0, 0.006, beats))
        period *= np.exp(wander - wander.mean())
    return period


def play(
    written: Written,
    programs: list[int],
    *,
    bpm: float,
    tempo: str,
    seconds: float,
    rng: np.random.Generator,
    drums: str | None = None,
    pauses: int = 0,
    loose: float = 0.0,
) -> Played:
    """Return the piece played from its first bar line.

    Parameters
    ----------
    written : Written
    programs : list of int
        General MIDI instruments, one a part, in turn.
    bpm, tempo : float, str
        Mean tempo, and how it bends.
    seconds : float
        About how long; a short piece is played again from the start.
    drums : str or None
        Pattern of the drum kit.
    pauses : int
        How many; each 2 to 5 s, half of them silent, half with the last notes held.
    loose : float
        SD of each note's own deviation (s).
    """
    bar = written.meter
    bars = max(1, int(np.ceil(written.end / written.beat / bar - 1e-6)))
    wanted = int(np.ceil(seconds * bpm / 60 / bar))
    times = -(-wanted // bars)
    beats = min(wanted, bars * times) * bar
    periods = bend(tempo, beats + 1, bpm, rng, bar=bar)
    starts = np.concatenate([[0.0], np.cumsum(periods)])
    held = _pause(starts, pauses, bar, rng)
    starts += 0.6
    at = np.arange(len(starts)) * 1.0

    def when(beat: float, *, end: bool = False) -> float:
        # A note that ends at a pause ends before it, or after it where it is held.
        time = float(np.interp(beat, at, starts))
        for index, (length, hold) in held.items():
            if index - 1 < beat < index:
                time = float(starts[index - 1] + (beat - index + 1) * (starts[index] - starts[index - 1] - length))
            elif end and abs(beat - index) < 1e-6:
                time -= 0.2 if hold else length
        return time

    notes: list[tuple[float, float, int, int, int]] = []
    channels = [channel for channel in range(16) if channel != DRUMS]
    accents = rng.integers(0, 14, 64)
    for again in range(times):
        for start, length, pitch, part in written.notes:
            beat = start / written.beat + again * bars * bar
            if not 0 <= beat < beats - 1e-6:
                continue
            strong = 12 if abs(beat % bar) < 1e-6 else 5 if abs(beat % 1) < 1e-6 else 0
            velocity = int(np.clip(70 + strong + accents[int(beat * 4) % 64] + rng.normal(0, 5), 20, 125))
            own = (rng.normal(0, loose) if loose else 0.0) - HEARD_AFTER.get(programs[part % len(programs)], 0.0)
            first = max(0.0, when(beat) + own)
            last = max(first + 0.05, when(min(beat + length / written.beat, beats), end=True) - 0.01)
            notes.append((first, last, pitch, velocity, channels[part % len(channels)]))
    if drums:
        for start in range(0, beats, bar):
            for pitch, places, velocity in PATTERNS[drums][bar]:
                for place in places:
                    first = when(start + place) + rng.normal(0, 0.003)
                    notes.append((first, first + 0.1, pitch, int(velocity + rng.integers(-8, 8)), DRUMS))
    silent = [(float(starts[index - 1]), float(starts[index])) for index in held]
    used = {channels[part % len(channels)]: programs[part % len(programs)] for part in range(written.parts)}
    return Played(sorted(notes), used, starts[:beats], starts[:beats:bar], silent)


def _pause(starts: np.ndarray, number: int, bar: int, rng: np.random.Generator) -> dict[int, tuple[float, bool]]:
    """Put pauses before bar lines, in place; return their beat's index, length and whether the last notes are held."""
    lines = np.arange(2 * bar, len(starts) - 2 * bar, bar)
    held: dict[int, tuple[float, bool]] = {}
    for share in range(number):
        chosen = int(lines[int((share + rng.uniform(0.3, 0.7)) / number * len(lines))])
        length = float(rng.uniform(2, 5))
        starts[chosen:] += length
        held[chosen] = (length, bool(rng.random() < 0.5))
    return held
