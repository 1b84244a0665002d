"""Delays of a set-up, estimated from taps to clicks or from recorded key strokes: pure.

A measured delay is a sum of up to four: that of the keyboard, of the loudspeaker beyond the device's own latency, of
the microphone, and the negative mean asynchrony of a person who taps to expected clicks. Each function names its terms.
The delay of loudspeaker and microphone together is measured in :mod:`tempo_coach.live.setup.chirps`.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from tempo_coach.errors import CoachError
from tempo_coach.music.beats.tapped import LEAD_SPREAD, TYPICAL_LEAD
from tempo_coach.observe.take.clock import BIWEIGHT, MAD_TO_SD
from tempo_coach.times import ascending

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

#: The first clicks are listened to; nobody taps in time before the third (common practice in tapping studies).
LISTENED_TO = 4
#: Taps that are needed for an interval that means something.
LEAST_TAPS = 10
#: A tap is taken for a click's from this long before it; later ones until the next click's begin: setups are late
#: by up to 0.3 s, people are ahead by a tenth at most.
AHEAD = 0.15
#: Share of the taps left out at each end (trimmed mean; Tukey & McLaughlin 1963, from memory).
TRIM = 0.2
#: A key is heard at most this long before its stamp, and at most this long after (s).
STROKE_BEFORE, STROKE_AFTER = 0.2, 0.04
#: A stroke begins where its sound first reaches this share of its height, and stands out of the noise by so much.
STROKE_BEGINS, STROKE_CLEAR = 0.25, 6.0


@dataclass(frozen=True)
class Delay:
    """A delay with its uncertainty, in seconds.

    Parameters
    ----------
    mean : float
        Positive: later than it should be.
    low, high : float
        95 % interval.
    spread : float
        SD without outliers.
    n : int
        Sample size.
    """

    mean: float
    low: float
    high: float
    spread: float
    n: int


@dataclass(frozen=True)
class TapDelay:
    """Delays measured by tapping to clicks.

    Parameters
    ----------
    tapped : Delay
        Keyboard and loudspeaker, less the person's lead.
    setup : Delay
        Keyboard and loudspeaker under a prior on that lead, whose spread its interval includes.
    """

    tapped: Delay
    setup: Delay


def find_mean(delays: ArrayLike) -> Delay:
    """Return the trimmed mean of delays, with an interval robust to outliers and autocorrelation.

    The standard error comes from the Winsorized variance (Tukey & McLaughlin 1963); neighbouring taps resemble each
    other, so that n taps count as n (1 - r) / (1 + r) ones, r the autocorrelation at lag 1 (Bartlett 1935).

    Parameters
    ----------
    delays : array_like, shape (n,), n >= 5
        In the order in which they were observed.

    Returns
    -------
    Delay

    Raises
    ------
    ValueError
        If there are fewer than five.

    Examples
    --------
    >>> round(find_mean([0.01, 0.012, 0.011, 0.009, 0.5, 0.01]).mean, 3)
    0.011
    """
    from scipy.stats import t

    given = np.asarray(delays, dtype=np.float64)
    n = given.size
    if n < 5:
        raise ValueError(f"expected at least 5 delays, got {n}")
    cut = int(TRIM * n)
    order = np.sort(given)
    kept = order[cut : n - cut]
    winsorised = np.clip(given, kept[0], kept[-1])
    spread = float(np.std(winsorised, ddof=1))
    off = winsorised - winsorised.mean()
    power = float(off @ off)
    autocorrelation = min(max(float(off[1:] @ off[:-1]) / power, 0.0), 0.8) if power else 0.0
    counted = n * (1 - autocorrelation) / (1 + autocorrelation)
    error = spread / ((1 - 2 * cut / n) * math.sqrt(counted))
    half = float(t.ppf(0.975, max(kept.size - 1, 1))) * error
    mean = float(kept.mean())
    off = np.abs(given - np.median(given))
    inliers = given[off <= BIWEIGHT * MAD_TO_SD * np.median(off)]
    return Delay(mean, mean - half, mean + half, float(np.std(inliers, ddof=1)) if inliers.size > 1 else 0.0, n)


def find_tap_delay(taps: ArrayLike, clicks: ArrayLike) -> TapDelay:
    """Return the delay of taps to even clicks.

    Parameters
    ----------
    taps, clicks : array_like
        Take time in seconds, ascending. The first ``LISTENED_TO`` clicks do not count.

    Returns
    -------
    TapDelay

    Raises
    ------
    CoachError
        If too few clicks were answered to say anything.
    """
    stamps, asked = ascending(taps, name="taps"), ascending(clicks, name="clicks")
    asked = asked[LISTENED_TO:]
    step = float(np.median(np.diff(asked)))
    late = []
    for click in asked:
        mine = stamps[(stamps >= click - AHEAD) & (stamps < click - AHEAD + step)]
        if mine.size == 1:  # with two, nobody knows which one was meant
            late.append(float(mine[0]) - float(click))
    if len(late) < LEAST_TAPS:
        raise CoachError("calibration.few_taps", where="taps", least=LEAST_TAPS, answered=len(late))
    tapped = find_mean(late)
    # the lead is as uncertain as people differ, whatever the number of taps
    half = math.hypot((tapped.high - tapped.low) / 2, 1.96 * LEAD_SPREAD)
    mean = tapped.mean + TYPICAL_LEAD
    return TapDelay(tapped, Delay(mean, mean - half, mean + half, tapped.spread, tapped.n))


def find_stroke_delay(stamps: ArrayLike, heard: np.ndarray, rate_hz: int, *, what: str = "strokes") -> Delay:
    """Return the delay of key stamps behind the recorded strokes.

    Nothing is played meanwhile, and nobody has to keep time: the person is not in it at all.

    Parameters
    ----------
    stamps : array_like, shape (n,)
        Take time of each press as stamped, in seconds, ascending.
    heard : numpy.ndarray, shape (m,)
        The recording on the take clock.
    rate_hz : int
    what : str
        How an error calls them.

    Returns
    -------
    Delay

    Raises
    ------
    CoachError
        If too few strokes can be heard.
    """
    loud = np.abs(np.diff(np.asarray(heard, dtype=np.float64), prepend=0.0))  # what is sudden, not what hums
    late = []
    for stamp in ascending(stamps, name="stamps"):
        first = round((float(stamp) - STROKE_BEFORE) * rate_hz)
        end = round((float(stamp) + STROKE_AFTER) * rate_hz)
        if first < 0 or end > loud.size:
            continue
        near = loud[first:end]
        highest = float(near.max())
        if highest > STROKE_CLEAR * MAD_TO_SD * float(np.median(near)) > 0 or (highest > 0 and not np.median(near)):
            late.append(float(stamp) - (first + int(np.argmax(near >= STROKE_BEGINS * highest))) / rate_hz)
    if len(late) < LEAST_TAPS:
        raise CoachError("calibration.few_strokes", where=what, least=LEAST_TAPS, heard=len(late))
    return find_mean(late)
