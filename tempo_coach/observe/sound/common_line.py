"""The line between the clocks of a recording and its music that fits all windows jointly, when none is clear by itself.

Under a crowd that is louder than the music a window's true place is one of several about as high. What they have in
common is found by adding up the squared heights of all windows at each offset between the clocks, for each rate.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from tempo_coach.observe.sound.windows import RATE_HZ
from tempo_coach.observe.take.clock import ClockLine

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from tempo_coach.observe.sound.windows import Wave, WindowLocator
    from tempo_coach.times import Floats

#: Samples of a step of the offset: 2 ms, the wave of a sound of 500 Hz.
_STEP = 16
#: Most of a window's height that counts: a single one, however alike, shall not decide.
_MOST_HEIGHT = 9.0
#: Least windows, the least height of the best offset above all others in SDs of the sum, and how many times as high it
#: is as the best one elsewhere. Its own music, a crowd 10 dB louder, hall of 2.5 s, tuning seeds 500 to 528: 19 to
#: 46, 1.76 to 4.6 times; other music of the same tempo, scale and instruments: up to 18, 1.25 times.
FEWEST, _STANDS_OUT, _LEADS = 3, 10.0, 1.5
#: Steps beside the best offset that belong to it.
_BESIDE = 25


def find_common_line(
    heard: Wave, locator: WindowLocator, starts: NDArray[np.int64], *, rates: Sequence[float] | Floats
) -> tuple[ClockLine, float] | None:
    """Return the line that fits all windows jointly, and its confidence; None without a clear optimum.

    Parameters
    ----------
    heard : ndarray of float32, shape (n,)
        The recording as :func:`tempo_coach.observe.sound.windows.whiten` gives it.
    locator : WindowLocator
        Of the music.
    starts : ndarray of int, shape (k,)
        Samples at which the windows begin, ascending.
    rates : sequence of float
        Rates of the music's clock against the recording's that are tried, less 1.

    Returns
    -------
    line : ClockLine
        From the recording's clock to the music's, within some ms.
    confidence : float
        0 to 1: 1 where the best one elsewhere is less than half as high.
    """
    if len(starts) < FEWEST:
        return None
    middle = (int(starts[0]) + int(starts[-1])) / 2
    reach = round(max(abs(rate) for rate in rates) * (int(starts[-1]) - middle) / _STEP) + 1
    # offsets: where the music's first sample lies behind the recording's last one, to the music's end
    steps = (len(heard) + len(locator.played) + locator.length) // _STEP + 2 * reach + 4
    total = np.zeros((len(rates), steps), np.float32)
    for start in starts.tolist():
        heights = locator.heights(heard[start : start + locator.length])
        first = len(heard) - start - locator.length + 1
        before = first % _STEP
        padded = np.pad(np.minimum(heights, _MOST_HEIGHT) ** 2, (before, -(before + heights.size) % _STEP))
        highest = padded.reshape(-1, _STEP).max(axis=1)
        for row, rate in zip(total, rates, strict=True):
            at = first // _STEP + reach - round((start - middle) * rate / _STEP)
            row[at : at + highest.size] += highest
    best_rate, best = (int(k) for k in np.unravel_index(int(total.argmax()), total.shape))
    along = np.maximum(total.max(axis=0), np.roll(total.max(axis=0), 1))
    tried = along[along > 0]
    if not tried.size:
        return None  # silence
    typical = float(np.median(tried))
    spread = 1.4826 * float(np.median(np.abs(tried - typical))) + 1e-9
    top = float(total[best_rate, best]) - typical
    elsewhere = np.delete(along, np.s_[max(0, best - _BESIDE) : best + _BESIDE + 1])
    second = max(float(elsewhere.max(initial=typical)) - typical, 1e-9)
    if top < _STANDS_OUT * spread or top < _LEADS * second:
        return None
    offset = ((best - reach + 0.5) * _STEP - len(heard)) / RATE_HZ
    at = middle / RATE_HZ
    return ClockLine(at, at + offset, 1 + float(rates[best_rate]), float("nan"), len(starts)), min(
        1.0, top / second - 1
    )
