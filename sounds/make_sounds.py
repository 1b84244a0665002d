"""Make the cue sounds: ``python sounds/make_sounds.py``.

Each is a struck piece of wood in numbers: a few damped partials and a trace of noise, the loudest within a
millisecond of the first sample, so that the ear and a detector agree where it begins. The ones are deepest, the two
hands are a fourth apart, the counts of the lead-in lie above them.
"""

from pathlib import Path

import numpy as np
import soundfile

RATE_HZ = 48_000
LENGTH = 0.12
RISE = 0.0006  # seconds to full height: short enough for an exact beginning, long enough not to spit
#: Lowest partial (Hz) and decay (s) of each sound. All lie where the ear is keen and music is thin.
SOUNDS = {
    "count": (2350.0, 0.018),
    "one": (1050.0, 0.035),
    "first_hand": (1400.0, 0.025),
    "second_hand": (1870.0, 0.025),
}
#: Partials of a free wooden bar against its lowest, and their share.
PARTIALS = ((1.0, 1.0), (2.76, 0.35), (5.40, 0.12))


def make_sound(lowest_hz: float, decay: float) -> np.ndarray:
    """Return one cue, shape (n,), peak 0.9; its first sample already sounds."""
    time = np.arange(int(LENGTH * RATE_HZ)) / RATE_HZ
    wave = np.zeros_like(time)
    for ratio, share in PARTIALS:
        wave += share * np.cos(2 * np.pi * lowest_hz * ratio * time) * np.exp(-time * ratio / decay)
    noise = np.random.default_rng(8).normal(size=time.size)
    wave += 0.15 * noise * np.exp(-time / 0.003)
    rise = np.minimum(1.0, (time + 1 / RATE_HZ) / RISE)
    end = np.minimum(1.0, (LENGTH - time) / 0.01)
    wave *= rise * end
    return 0.9 * wave / np.abs(wave).max()


if __name__ == "__main__":
    for name, (lowest_hz, decay) in SOUNDS.items():
        soundfile.write(Path(__file__).parent / f"{name}.wav", make_sound(lowest_hz, decay), RATE_HZ)
