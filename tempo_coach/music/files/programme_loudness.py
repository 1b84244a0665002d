"""Programme loudness and true peak of a sound, as EBU R 128 has them measured."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from tempo_coach.music.files.sound import BLOCK

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from tempo_coach.music.files.sound import Sound

#: Blocks of 400 ms, three quarters of each in the next one; below -70 LUFS, and 10 LU below the mean of the rest, they
#: do not count (ITU-R BS.1770-4, annex 1).
BLOCK_S, STEP_S = 0.4, 0.1
ABSOLUTE_LUFS, RELATIVE_LU = -70.0, -10.0
#: What a sine of 997 Hz in one channel at full scale reads -3.01 with (the same annex).
_OFFSET = -0.691
#: Weights of channels in the order left, right, centre, left and right behind (the same annex); further ones count 1.
_WEIGHTS = (1.0, 1.0, 1.0, 1.41, 1.41)
#: Shelf and high-pass of the K-weighting: frequency (Hz), quality, and gains of low, middle and high. Solved from the
#: annex's coefficients at 48 kHz, as a note on them has it ("ITU-R BS.1770-1 filter specifications", 2011), so that
#: the filters can be made for any rate.
_SHELF = (1681.974450955533, 0.7071752369554196, 1.0, 1.258720930232562, 1.584864701130855)
_HIGH_PASS = (38.13547087602444, 0.5003270373238773, 0.0, 0.0, 1.0)
#: Oversampling in the search of the true peak, and the taps of its filter on either side (annex 2 asks for four times).
_OVER, _TAPS = 4, 24


def measure_loudness(sound: Sound) -> float:
    """Return the programme loudness of a sound.

    Parameters
    ----------
    sound : Sound

    Returns
    -------
    float
        LUFS; -inf where nothing is louder than the absolute gate, or the sound is shorter than a block.

    Notes
    -----
    ITU-R BS.1770-4, annex 1: K-weighting, mean square by block, two gates.

    Examples
    --------
    >>> import numpy as np
    >>> from tempo_coach.music.files.sound import Sound
    >>> sine = 10 ** (-23 / 20) * np.sin(2 * np.pi * 1000 * np.arange(96_000) / 48_000)
    >>> round(measure_loudness(Sound(np.stack([sine, sine], 1), 48_000)), 1)
    -23.0
    """
    powers = _block_powers(sound)
    loud = powers[_to_lufs(powers) > ABSOLUTE_LUFS]
    if not loud.size:
        return -math.inf
    gate = float(_to_lufs(loud.mean())) + RELATIVE_LU
    return float(_to_lufs(loud[_to_lufs(loud) > gate].mean()))


def find_true_peak(sound: Sound) -> float:
    """Return the true peak of a sound, between samples too, in dB of full scale; -inf for silence.

    Parameters
    ----------
    sound : Sound

    Notes
    -----
    Four times oversampled, as ITU-R BS.1770-4, annex 2 asks: at the highest frequencies it may read up to .6 dB low.
    """
    from scipy.signal import firwin, upfirdn

    taps = _OVER * firwin(2 * _OVER * _TAPS + 1, 1 / _OVER, window=("kaiser", 6.0))
    peak = 0.0
    for first in range(0, len(sound.samples), BLOCK):
        begin = max(0, first - 2 * _TAPS)
        part = np.asarray(sound.samples[begin : first + BLOCK + 2 * _TAPS], dtype=np.float64)
        peak = max(peak, float(np.abs(part).max()), float(np.abs(upfirdn(taps, part, up=_OVER, axis=0)).max()))
    return 20 * math.log10(peak) if peak > 0 else -math.inf


def _block_powers(sound: Sound) -> NDArray[np.float64]:
    """Return the weighted mean square of each block, shape (blocks,)."""
    from scipy.signal import lfilter, lfilter_zi

    rate_hz, channels = sound.rate_hz, sound.channels
    step = round(STEP_S * rate_hz)
    steps = len(sound.samples) // step
    filters = [_biquad(rate_hz, *_SHELF), _biquad(rate_hz, *_HIGH_PASS)]
    states = [np.zeros((len(lfilter_zi(*each)), channels)) for each in filters]
    weights = np.array([*_WEIGHTS, *[1.0] * channels][:channels])
    sums = np.zeros(steps)
    at_once = max(1, BLOCK // step)
    for first in range(0, steps, at_once):
        last = min(first + at_once, steps)
        part = np.asarray(sound.samples[first * step : last * step], dtype=np.float64)
        for k, each in enumerate(filters):
            part, states[k] = lfilter(*each, part, axis=0, zi=states[k])
        sums[first:last] = (part.reshape(last - first, step, channels) ** 2).sum(axis=1) @ weights
    number = round(BLOCK_S / STEP_S)
    if steps < number:
        return np.zeros(0)
    return np.convolve(sums, np.ones(number), mode="valid") / (number * step)


def _to_lufs(power: NDArray[np.float64] | np.floating) -> NDArray[np.float64]:
    return np.asarray(_OFFSET + 10 * np.log10(np.maximum(power, 1e-20)))


def _biquad(
    rate_hz: int, frequency_hz: float, quality: float, low: float, middle: float, high: float
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return numerator and denominator of a second-order section, made by the bilinear transform."""
    turn = math.tan(math.pi * frequency_hz / rate_hz)
    scale = turn**2 + turn / quality + 1
    denominator = np.array([scale, 2 * (turn**2 - 1), turn**2 - turn / quality + 1]) / scale
    numerator = np.array(
        [
            low * turn**2 + middle * turn / quality + high,
            2 * (low * turn**2 - high),
            low * turn**2 - middle * turn / quality + high,
        ]
    )
    # the annex gives the high-pass a numerator of 1, -2, 1, as it stands
    return numerator / (scale if low else 1.0), denominator
