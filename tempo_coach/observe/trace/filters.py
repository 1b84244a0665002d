"""Zero-phase filters, running means and medians, runs of flags, and cubic splines, on numpy alone.

A table is read and studied in less time than the libraries of filters take to be imported, so none is.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, TypeVar

import numpy as np

if TYPE_CHECKING:
    from tempo_coach.times import Floats

#: Padding before filtering, in cycles at either end.
_CONTINUED = 4
#: Neighbours in a tridiagonal system count no more below this.
_COUPLED = 1e-17
#: Readings that a running median looks at, evenly chosen from its window.
_TAPS = 9

Complexes = np.ndarray[tuple[int, ...], np.dtype[np.complex128]]
Readings = TypeVar("Readings", "Floats", Complexes)
Flags = np.ndarray[tuple[int], np.dtype[np.bool_]]


def low_pass(values: Readings, per_cycle: int, corner: float, *, order: int = 2) -> Readings:
    """Low-pass filter with zero phase: the gain of a Butterworth filter run forward and backward.

    Parameters
    ----------
    values : numpy.ndarray, shape (n,) or (n, d)
        Real or complex.
    per_cycle : int
        Readings a cycle.
    corner : float
        In cycles a cycle: 1 is the first harmonic. The gain there is a half.
    order : int
        Of each pass.
    """
    n = len(values)
    if corner >= per_cycle / 2.2:
        return values
    ahead, after = _continue(values, per_cycle)
    longer = np.concatenate([ahead, values, after])
    # the spectrum goes round: without the straight line from end to end there is no jump where it closes
    slope = (longer[-1] - longer[0]) / max(len(longer) - 1, 1)
    line = longer[0] + np.multiply.outer(np.arange(len(longer)), slope)
    size = find_fast_length(len(longer))
    is_complex = np.iscomplexobj(values)
    frequency = np.abs(np.fft.fftfreq(size)) if is_complex else np.fft.rfftfreq(size)
    with np.errstate(over="ignore"):  # an infinite attenuation is none that matters
        gain = 1 / (1 + (np.tan(np.pi * frequency) / np.tan(np.pi * corner / per_cycle)) ** (2 * order))
    there, back = (np.fft.fft, np.fft.ifft) if is_complex else (np.fft.rfft, np.fft.irfft)
    gain = gain.reshape(-1, *[1] * (values.ndim - 1))
    kept = back(there(longer - line, size, axis=0) * gain, size, axis=0)[: len(longer)] + line
    filtered: Readings = kept[len(ahead) :][:n]
    return filtered


def band_pass(values: Readings, per_cycle: int, lowest: float, highest: float, *, order: int = 2) -> Readings:
    """Band-pass filter with zero phase, its corners in multiples of the cycle's frequency."""
    kept = low_pass(values, per_cycle, highest, order=order)
    return kept - low_pass(kept, per_cycle, lowest)


def _continue(values: Readings, per_cycle: int) -> tuple[Readings, Readings]:
    """Return padding before and after the readings for filtering.

    A record that starts in mid-cycle is continued by its own first cycles, drift included; any other way of padding
    bends the middle line there and moves the first crossing by 10 ms. A shorter one is turned about its ends.
    """
    n = len(values)
    if n < 2 * per_cycle:
        ahead, after = 2 * values[0] - values[:0:-1], 2 * values[-1] - values[-2::-1]
        return ahead, after
    first, last = values[:per_cycle], values[-per_cycle:]
    fall = first.mean(axis=0) - values[per_cycle : 2 * per_cycle].mean(axis=0)
    rise = last.mean(axis=0) - values[-2 * per_cycle : -per_cycle].mean(axis=0)
    steps = np.arange(1, _CONTINUED + 1)
    return (
        np.concatenate([first + k * fall for k in steps[::-1]]),
        np.concatenate([last + k * rise for k in steps]),
    )


def find_fast_length(least: int) -> int:
    """Return the shortest length, at least ``least``, with small prime factors for the FFT.

    Examples
    --------
    >>> find_fast_length(1021), find_fast_length(7)
    (1024, 8)
    """
    best = 1 << max(least - 1, 0).bit_length()
    five = 1
    while five < best:
        three = five
        while three < best:
            two = three << max(-(-least // three) - 1, 0).bit_length()
            best = min(best, two)
            three *= 3
        five *= 5
    return best


def find_analytic(signal: Floats) -> Complexes:
    """Return the analytic signal: the readings and, as imaginary part, their Hilbert transform.

    Parameters
    ----------
    signal : numpy.ndarray, shape (n,) or (n, columns)
        At even steps.
    """
    n = signal.size
    gain = np.zeros(n)
    gain[0] = 1
    gain[1 : (n + 1) // 2] = 2
    if n % 2 == 0:
        gain[n // 2] = 1
    return np.asarray(np.fft.ifft(np.fft.fft(signal) * gain))


def correlate(first: Floats, second: Floats, lags: int) -> Floats:
    """Return Σ first(t)·second(t + lag) over the columns of each window, for the lags 0 to ``lags``.

    Parameters
    ----------
    first, second : numpy.ndarray, shape (windows, n, d)
    lags : int

    Returns
    -------
    numpy.ndarray, shape (windows, lags + 1)
    """
    size = find_fast_length(second.shape[1] + lags + 1)
    # a column of all windows at a time: transforms and sums over neighbours in memory are several times as fast
    product: Floats | Complexes = np.zeros(1)
    for column in range(second.shape[2]):
        spectrum = np.fft.rfft(np.ascontiguousarray(second[:, :, column]), size)
        if first is second:
            product = product + spectrum.real**2 + spectrum.imag**2
        else:
            product = product + np.fft.rfft(np.ascontiguousarray(first[:, :, column]), size).conj() * spectrum
    return np.asarray(np.fft.irfft(product, size)[:, : lags + 1])


def accumulate_energy(windows: Floats) -> Floats:
    """Return the cumulative Σ first(t)² over the columns of each window, shape (windows, n + 1)."""
    energy = np.zeros((windows.shape[0], windows.shape[1] + 1))
    np.cumsum(np.einsum("wnd,wnd->wn", windows, windows), axis=1, out=energy[:, 1:])
    return energy


def average(values: np.ndarray, many: int) -> Floats:
    """Return means of consecutive blocks along the first axis; an incomplete last block is dropped.

    Parameters
    ----------
    values : numpy.ndarray, shape (n, ...)
    many : int
        Rows of a block.
    """
    n = len(values) // many * many
    total = values[0:n:many].astype(np.float64)
    for k in range(1, many):
        total = total + values[k:n:many]
    return np.asarray(total / many)


def running_mean(values: Readings, width: int) -> Readings:
    """Return the running mean over ``width`` readings along the first axis, with edge values repeated."""
    if width < 2:
        return values
    padded = np.concatenate([values[:1].repeat(width // 2 + 1, axis=0), values, values[-1:].repeat(width, axis=0)])
    total = np.cumsum(padded - values.mean(axis=0), axis=0)
    mean: Readings = (total[width:] - total[:-width])[: len(values)] / width + values.mean(axis=0)
    return mean


def running_median(values: Floats, width: int) -> Floats:
    """Return the running median of columns; wide windows are sampled at even steps.

    Parameters
    ----------
    values : numpy.ndarray, shape (n, d)
    width : int
        Readings, odd.
    """
    if width < 3 or len(values) < 2:
        return values
    half = width // 2
    taps = np.unique(np.rint(np.linspace(-half, half, min(width, _TAPS))).astype(int))
    at = np.arange(len(values))
    stacked = np.stack([values[np.clip(at + tap, 0, len(values) - 1)] for tap in taps])
    middle = taps.size // 2
    return np.asarray(np.partition(stacked, middle, axis=0)[middle])


def find_runs(flags: Flags) -> np.ndarray[tuple[int, int], np.dtype[np.int64]]:
    """Return the start and the end of each run of true, shape (k, 2)."""
    return np.flatnonzero(np.diff(np.concatenate([[0], flags.astype(np.int8), [0]]))).reshape(-1, 2)


def close_gaps(flags: Flags, least: int) -> Flags:
    """Close the gaps between runs of true that are shorter than ``least``; those at the ends stay."""
    out = flags.copy()
    for first, last in find_runs(~flags):
        if last - first < least and first > 0 and last < flags.size:
            out[first:last] = True
    return out


def drop_runs(flags: Flags, least: int, *, at_ends: bool = True) -> Flags:
    """Clear runs of true that are shorter than ``least``, those at the ends only where ``at_ends`` is set."""
    out = flags.copy()
    for first, last in find_runs(flags):
        if last - first < least and (at_ends or (first > 0 and last < flags.size)):
            out[first:last] = False
    return out


def find_nearest(values: Floats, wanted: np.ndarray) -> np.ndarray[tuple[int], np.dtype[np.int64]]:
    """Return, for each query, the index of the nearest of ascending values (at least one).

    Parameters
    ----------
    values : numpy.ndarray, shape (n,)
        Ascending.
    wanted : numpy.ndarray, shape (m,)
        In the same unit.
    """
    after = np.clip(np.searchsorted(values, wanted), 1, max(values.size - 1, 1))
    is_before = np.abs(values[after - 1] - wanted) <= np.abs(values[np.minimum(after, values.size - 1)] - wanted)
    return np.where(is_before, after - 1, np.minimum(after, values.size - 1))


def interpolate(time: Floats, values: Floats, at: Floats) -> Floats:
    """Interpolate by a natural cubic spline, extrapolated linearly.

    Parameters
    ----------
    time : numpy.ndarray, shape (n,)
        Ascending, n at least 2.
    values : numpy.ndarray, shape (n, d)
    at : numpy.ndarray, shape (m,)

    Returns
    -------
    numpy.ndarray, shape (m, d)
    """
    step = np.diff(time)[:, None]
    rise = np.diff(values, axis=0) / step
    slopes = _find_slopes(step, rise)
    k = np.clip(np.searchsorted(time, at, side="right") - 1, 0, time.size - 2)
    here = at - time[k]
    part = np.clip(here / step[k, 0], 0, 1)[:, None]
    wide, rest = step[k], 1 - part
    inside = (
        values[k] * rest**2 * (1 + 2 * part)
        + values[k + 1] * part**2 * (3 - 2 * part)
        + wide * part * rest * (slopes[k] * rest - slopes[k + 1] * part)
    )
    before, behind = np.minimum(here, 0)[:, None], np.maximum(here - step[k, 0], 0)[:, None]
    return np.asarray(inside + before * slopes[0] + behind * slopes[-1])


def _find_slopes(step: Floats, rise: Floats) -> Floats:
    """Return the slopes at the knots of the natural cubic spline."""
    left, right = step[1:], step[:-1]
    both = 2 * (left + right)
    asked = np.concatenate([1.5 * rise[:1], 3 * (left * rise[:-1] + right * rise[1:]) / both, 1.5 * rise[-1:]])
    end, half = np.zeros((1, 1)), np.full((1, 1), 0.5)
    return _solve(np.concatenate([end, left / both, half]), np.concatenate([half, right / both, end]), asked)


def _solve(before: Floats, behind: Floats, asked: Floats) -> Floats:
    """Solve a tridiagonal system with a unit diagonal by cyclic reduction (R. W. Hockney 1965, from memory).

    What is left of a row's neighbours is squared with each halving, here from a half at most.
    """
    if len(asked) == 1 or max(float(np.abs(before).max()), float(np.abs(behind).max())) < _COUPLED:
        return asked
    # every other row without its neighbours, of which the last one may be missing
    odd, even = slice(1, None, 2), slice(0, None, 2)
    rows = len(before[odd])
    a, c, r = before[odd], behind[odd], asked[odd]
    a0, c0, r0 = before[even][:rows], behind[even][:rows], asked[even][:rows]
    a1, c1, r1 = before[even][1:], behind[even][1:], asked[even][1:]
    if len(a1) < rows:  # the last row has nothing after it
        a1, c1, r1 = (np.concatenate([each, np.zeros((1, each.shape[1]))]) for each in (a1, c1, r1))
    scale = 1 / (1 - a * c0 - c * a1)
    kept = _solve(-a * a0 * scale, -c * c1 * scale, (r - a * r0 - c * r1) * scale)
    out = np.empty_like(asked)
    out[odd] = kept
    out[even] = asked[even]
    out[even][1:] -= before[even][1:] * kept[: len(out[even]) - 1]
    out[even][:rows] -= behind[even][:rows] * kept
    return out
