"""A synthesiser small enough to read: struck tones of six partials, and drums of noise and a falling tone."""

import numpy as np

from tempo_coach.music.files.sound import Sound
from tests.benchmarks.beat_set.played import DRUMS, Played


def render_small(played: Played, *, rate_hz: int = 22_050, decay: float = 0.4, attack: float = 0.003) -> Sound:
    """Return the music as sound, mono; every note begins exactly at its time, to the nearest sample."""
    length = max(end for _, end, *_ in played.notes) + 1
    samples = np.zeros(int(length * rate_hz))
    noise = np.random.default_rng(1).normal(size=rate_hz)
    for start, end, pitch, velocity, channel in played.notes:
        seconds = (
            np.arange(int((min(0.25, end - start) if channel == DRUMS else end - start + 0.05) * rate_hz)) / rate_hz
        )
        if channel == DRUMS:
            tone = _drum(pitch, seconds, noise)
        else:
            hz = 440 * 2 ** ((pitch - 69) / 12)
            partials = [k for k in range(1, 7) if k * hz < rate_hz / 2.2]
            tone = sum(np.sin(2 * np.pi * k * hz * seconds) / k**1.3 for k in partials) * np.exp(-seconds / decay)
        tone *= np.minimum(1, seconds / attack) * np.minimum(1, (seconds[-1] - seconds) / 0.02 + 1e-9) * velocity / 127
        first = round(start * rate_hz)
        part = samples[first : first + len(tone)]
        part += 0.15 * tone[: len(part)]
    return Sound(samples[:, None] / max(1.0, np.abs(samples).max()), rate_hz)


def _drum(pitch: int, seconds: np.ndarray, noise: np.ndarray) -> np.ndarray:
    if pitch <= 36:
        return 2 * np.sin(2 * np.pi * (50 * seconds + 3 * (1 - np.exp(-seconds / 0.02)))) * np.exp(-seconds / 0.08)
    return noise[: len(seconds)] * np.exp(-seconds / (0.06 if pitch <= 40 else 0.02))
