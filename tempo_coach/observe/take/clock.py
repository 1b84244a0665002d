"""Robust linear fits between two clocks.

Clocks that are read together give pairs of readings. A few are outliers, because the computer was busy between the two
readings. The line through them converts readings of either clock to the other. Sound cards, microphones, films, sensors
and keyboards are all put on the take clock this way, once.
"""

from __future__ import annotations

from contextlib import suppress
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, NamedTuple, overload

import numpy as np

from tempo_coach.times import Floats, column

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

#: Most pairs in the initial median slope, evenly spread: its cost grows with the square.
SLOPE_PAIRS = 100
#: Residuals beyond this many robust SDs have weight 0: Tukey's biweight at 95 % efficiency under normal errors (Beaton
#: & Tukey 1974, the value from memory).
BIWEIGHT = 4.685
#: Turns a median absolute residual into the SD of normal errors: 1 / the normal quantile of 3/4.
MAD_TO_SD = 1.482602218505602
#: Share of the earliest events that may be earlier than their line says: some stretches of time hold late ones alone.
EARLY = 0.2


@dataclass(frozen=True, eq=False)
class ClockLine:
    """The line from a first clock to a second: ``second = offset + rate * (first - origin)``.

    Attributes
    ----------
    origin : float
        A reading of the first clock near the middle of the fit.
    offset : float
        Reading of the second clock at ``origin``.
    rate : float
        Rate of the second clock relative to the first; never 0.
    residual_sd : float
        Robust SD of the residuals in units of the second clock: 1.4826 times the median absolute residual. NaN for
        fewer than three pairs.
    n : int
        Number of pairs.

    Examples
    --------
    >>> line = ClockLine(origin=10.0, offset=480_000.0, rate=48_000.0, residual_sd=0.0, n=2)
    >>> line.to_second(10.5)
    504000.0
    >>> line.to_first(504_000.0)
    10.5
    """

    origin: float
    offset: float
    rate: float
    residual_sd: float
    n: int

    def __post_init__(self) -> None:
        if not (np.isfinite([self.origin, self.offset, self.rate]).all() and self.rate != 0):
            raise ValueError(f"a clock line needs finite numbers and a rate other than 0, got {self}")

    @overload
    def to_second(self, first: float) -> float: ...
    @overload
    def to_second(self, first: Floats) -> Floats: ...
    def to_second(self, first: float | Floats) -> float | Floats:
        """Return the reading of the second clock at a reading of the first."""
        return self.offset + self.rate * (first - self.origin)

    @overload
    def to_first(self, second: float) -> float: ...
    @overload
    def to_first(self, second: Floats) -> Floats: ...
    def to_first(self, second: float | Floats) -> float | Floats:
        """Return the reading of the first clock at a reading of the second."""
        return self.origin + (second - self.offset) / self.rate


def fit_clock(first: ArrayLike, second: ArrayLike) -> ClockLine:
    """Fit a robust line from one clock to another.

    The Theil-Sen estimator (Theil 1950, Sen 1968), with a breakdown point of nearly 30 %, is refined by weighted least
    squares with Tukey's biweight.

    Parameters
    ----------
    first : array_like, shape (n,), n >= 2
        Readings of the first clock, any origin and unit.
    second : array_like, shape (n,)
        Readings of the second clock at the same instants.

    Returns
    -------
    ClockLine

    Raises
    ------
    ValueError
        If the shapes differ, there are fewer than two pairs, a reading is not finite, or either clock stands
        still.

    Examples
    --------
    >>> line = fit_clock([0.0, 1.0, 2.0, 3.0, 4.0], [7.0, 9.0, 11.0, 99.0, 15.0])
    >>> round(line.rate, 9), round(line.to_second(3.0), 9)
    (2.0, 13.0)
    """
    x, y = _readings(first, second)
    origin = float(np.median(x))
    x = x - origin
    middle = float(np.median(y))
    y = y - middle
    rate = _median_slope(x, y)
    offset = float(np.median(y - rate * x))
    for _ in range(5):
        off = y - offset - rate * x
        sd = MAD_TO_SD * float(np.median(np.abs(off)))
        if sd == 0:
            break
        weight = np.clip(1 - (off / (BIWEIGHT * sd)) ** 2, 0, None) ** 2
        total = weight.sum()
        x_mean, y_mean = (weight @ x) / total, (weight @ y) / total
        spread = weight @ (x - x_mean) ** 2
        if spread == 0:
            break
        rate = float((weight * (x - x_mean)) @ (y - y_mean) / spread)
        offset = float(y_mean - rate * x_mean)
    return ClockLine(origin, middle + offset, rate, _scatter(y - offset - rate * x), len(x))


def fit_offset(first: ArrayLike, second: ArrayLike, *, rate: float) -> ClockLine:
    """Fit a line of known rate from one clock to another: the offset is the median residual.

    For readings that span too little time to estimate the rate.

    Parameters
    ----------
    first, second : array_like, shape (n,), n >= 1
        Readings of the two clocks at the same instants.
    rate : float
        How much the second clock moves while the first moves by one.

    Returns
    -------
    ClockLine

    Raises
    ------
    ValueError
        If the shapes differ, there is no pair, a reading is not finite, or the rate is 0.
    """
    x, y = _readings(first, second, at_least=1)
    origin = float(np.median(x))
    off = y - rate * (x - origin)
    offset = float(np.median(off))
    return ClockLine(origin, offset, rate, _scatter(off - offset), len(x))


class NominalRate(NamedTuple):
    """A rate of a second clock that is nearly known.

    Parameters
    ----------
    rate : float
    off : float
        Largest deviation from it as a share: beyond, a fit has been misled.
    span : float
        Least seconds of the first clock for which a rate is fitted.
    """

    rate: float
    off: float = 500e-6
    span: float = 4.0


def fit_straight(first: ArrayLike, second: ArrayLike, nominal: NominalRate) -> ClockLine:
    """Fit a line from one clock to another whose rate is nearly known.

    Parameters
    ----------
    first, second : array_like, shape (n,), n >= 1
        Readings of the two clocks at the same instants.
    nominal : NominalRate
        The rate of the second clock, kept where the readings do not tell a better one.

    Returns
    -------
    ClockLine
    """
    x = np.asarray(first, dtype=np.float64)
    if x[-1] - x[0] >= nominal.span:
        with suppress(ValueError):  # a clock that stands still tells no rate
            line = fit_clock(x, second)
            if abs(line.rate / nominal.rate - 1) <= nominal.off:
                return line
    return fit_offset(x, second, rate=nominal.rate)


def fit_earliest(seen: ArrayLike, happened: ArrayLike, nominal: NominalRate) -> ClockLine:
    """Fit a line to events that may be seen late but never early: the lower envelope of their times.

    Parameters
    ----------
    seen : array_like, shape (n,), n >= 1
        When each was seen, seconds on our clock: of every stretch of time the event that was the least late.
    happened : array_like, shape (n,)
        When it happened, on the other clock.
    nominal : NominalRate

    Returns
    -------
    ClockLine
        From our clock to the other, less what the earliest events take of their own.

    Examples
    --------
    >>> line = fit_earliest([5.0, 6.0, 7.4, 8.0, 9.0], [0, 1, 2, 3, 4], NominalRate(1.0))
    >>> round(line.to_first(2.0), 3)
    7.0
    """
    line = fit_straight(seen, happened, nominal)
    late = np.asarray(seen, dtype=np.float64) - line.to_first(np.asarray(happened, dtype=np.float64))
    return replace(line, origin=line.origin + float(np.quantile(late, EARLY)))


def _readings(first: ArrayLike, second: ArrayLike, *, at_least: int = 2) -> tuple[Floats, Floats]:
    x, y = (
        column(first, name="readings of the first clock"),
        column(second, name="readings of the second clock"),
    )
    if len(x) != len(y):
        raise ValueError(f"expected two readings a pair, got {len(x)} and {len(y)}")
    if len(x) < at_least:
        raise ValueError(f"expected at least {at_least} pairs of readings, got {len(x)}")
    return x, y


def _median_slope(x: Floats, y: Floats) -> float:
    if len(x) > SLOPE_PAIRS:
        chosen = np.linspace(0, len(x) - 1, SLOPE_PAIRS).round().astype(int)
        x, y = x[chosen], y[chosen]
    i, j = np.triu_indices(len(x), 1)
    run = x[j] - x[i]
    apart = run != 0
    if not apart.any():
        raise ValueError("expected a first clock that moves, got the same reading every time")
    slope = float(np.median((y[j] - y[i])[apart] / run[apart]))
    if slope == 0:
        raise ValueError("expected a second clock that moves, got the same reading nearly every time")
    return slope


def _scatter(off: Floats) -> float:
    return MAD_TO_SD * float(np.median(np.abs(off))) if len(off) > 2 else float("nan")
