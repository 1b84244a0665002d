"""Loudness and true peak against the signals that the EBU publishes for meters.

Minimum requirements of EBU Tech 3341, table 1: sines of 1 kHz in both channels, and of a quarter, a sixth and an
eighth of the rate for the true peak. Levels, lengths and expected values are from memory.
"""

import math

import numpy as np
import pytest

from tempo_coach.music.files.programme_loudness import find_true_peak, measure_loudness
from tempo_coach.music.files.sound import Sound

RATE_HZ = 48_000


def sines(*parts, rate_hz=RATE_HZ, channels=2):
    """Sine of 1 kHz, stereo; each part has its level in dB of full scale and its seconds."""
    return np.concatenate(
        [
            np.repeat(
                10 ** (level / 20) * np.sin(2 * np.pi * 1000 * np.arange(round(s * rate_hz)) / rate_hz)[:, None],
                channels,
                1,
            )
            for level, s in parts
        ]
    )


@pytest.mark.parametrize(
    ("parts", "expected", "rate_hz"),
    [
        ([(-23, 20)], -23, 44_100),
        ([(-33, 20)], -33, RATE_HZ),
        ([(-36, 10), (-23, 60), (-36, 10)], -23, RATE_HZ),
        ([(-72, 10), (-36, 10), (-23, 60), (-36, 10), (-72, 10)], -23, RATE_HZ),
        ([(-26, 20), (-20, 20.1), (-26, 20)], -23, 44_100),
    ],
)
def test_sines_read_what_the_ebu_says(parts, expected, rate_hz):
    """Within .1 LU, cases 1 to 5."""
    assert measure_loudness(Sound(sines(*parts, rate_hz=rate_hz), rate_hz)) == pytest.approx(expected, abs=0.1)


def test_channels_behind_weigh_more():
    """Case 6: five channels, left and right -28, centre -24, behind -30 dB, 20 s."""
    levels = np.array([-28, -28, -24, -30, -30])
    samples = sines((0, 20), channels=5) * 10 ** (levels / 20)
    assert measure_loudness(Sound(samples, RATE_HZ)) == pytest.approx(-23, abs=0.1)


@pytest.mark.parametrize(
    ("part", "degrees", "amplitude", "expected"),
    [(4, 0, 0.5, -6), (4, 45, 0.5, -6), (6, 60, 0.5, -6), (8, 67.5, 0.5, -6), (4, 45, 1.41, 3)],
)
def test_the_true_peak_lies_between_samples(part, degrees, amplitude, expected):
    """Cases 15 to 19: +.2 and -.4 dB are allowed."""
    wave = amplitude * np.sin(2 * np.pi * np.arange(RATE_HZ) / part + math.radians(degrees))
    wave *= np.minimum(1, np.minimum(np.arange(RATE_HZ), np.arange(RATE_HZ)[::-1]) / 4800)
    assert -0.4 <= find_true_peak(Sound(wave[:, None], RATE_HZ)) - expected <= 0.2


def test_silence_has_no_loudness():
    silence = Sound(np.zeros((RATE_HZ, 1)), RATE_HZ)
    assert measure_loudness(silence) == find_true_peak(silence) == -math.inf
    assert measure_loudness(Sound(np.ones((100, 1)), RATE_HZ)) == -math.inf
