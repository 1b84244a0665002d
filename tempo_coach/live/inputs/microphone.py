"""The microphone's samples of a take, put on the take clock: pure.

One full-duplex stream plays and records, so input and output are synchronous to the sample while it is open. The
**loop**, the latency through buffers, loudspeaker, air and microphone, differs between openings. Device times do not
give it (on one server they were 38 ms off at one opening and 1 ms at the next), so it is measured by correlation with
the played samples.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from tempo_coach.observe.take.clock import MAD_TO_SD

if TYPE_CHECKING:
    from tempo_coach.times import Floats

#: Longest loop in seconds: wireless loudspeakers take 0.3, and the longest buffers about half.
LONGEST_LOOP = 1.0
#: Least height of the correlation peak in robust SDs: the maximum of noise over 50 000 lags is 5 to 6.
CLEAR = 9.0
#: Least height of the direct path, relative to the highest peak, which may be an echo.
DIRECT = 0.6
#: Seconds before the highest peak in which the direct path is searched: 17 m of detour.
ECHO = 0.05
#: Regularisation of the deconvolution, relative to the mean power: frequencies that were not played are not amplified.
BARE = 0.03
#: Band of the correlation in Hz, which small loudspeakers and microphones pass.
BAND_HZ = (300.0, 8000.0)
#: Seconds of a recording in each of which the loop is measured by itself: a wireless loudspeaker changes its delay in
#: mid-take, and two devices of unlike rates drift apart.
STRETCH = 4.0
#: Seconds by which the loop of successive stretches has to differ from what it was for a change, and within which they
#: agree with each other.
CHANGED, ALIKE = 0.002, 0.0025
#: Seconds by which the loops of two successive stretches may differ at most where both are heard.
DRIFTED = 0.01
#: Rates of a device against the one that it was asked for, which are looked for where nothing is heard at that one:
#: 44.1 for 48 kHz, and the other way round. Least ratio of its correlation to that at the rate that was asked for: a
#: sound that is not the program's own is as much like a cue at either rate.
OTHER_RATES, LIKELIER = (44.1 / 48, 48 / 44.1), 2.0
#: Least coefficient of that correlation: claps at just such a tempo have .1 at most, cues with claps beside them or
#: under noise that is twice as loud .4 and more.
ALIKE_ENOUGH = 0.25


@dataclass(frozen=True, eq=False)
class Recorded:
    """The recording of one opening of the device.

    Parameters
    ----------
    samples : numpy.ndarray, shape (n,), float32
        Full scale 1.
    rate_hz : int
        Samples a second, as many as are played.
    first_frame : int
        The frame of the take that went out while the first sample came in; negative before the take.
    overruns : int
        How often the driver said that samples were lost on the way in.
    """

    samples: np.ndarray
    rate_hz: int
    first_frame: int
    overruns: int = 0


def find_loop(
    recorded: Recorded,
    played: np.ndarray,
    *,
    near: float | None = None,
    likely: float | None = None,
    strongest: bool = False,
) -> float | None:
    """Measure the loop delay of one opening of the device in seconds.

    The cross-correlation gives a coarse estimate, also where cues repeat evenly. A regularised deconvolution then gives
    the impulse response, sharp also for tones; its earliest clear peak near the estimate is the direct path.

    Parameters
    ----------
    recorded : Recorded
    played : array_like, shape (frames,)
        The take's samples, from take time 0 on.
    near : float or None
        Seconds near which the loop is known to lie.
    likely : float or None
        Seconds near which it lies if as clear a peak is there: cues that repeat evenly have one at each of their steps.
    strongest : bool
        Whether the strongest path is meant instead of the direct one: in one room it is the same, whatever else sounds.

    Returns
    -------
    float or None
        None where the played samples are not heard: with headphones, or a loudspeaker that is off.
    """
    from scipy.fft import irfft, next_fast_len, rfft, rfftfreq

    heard = np.asarray(recorded.samples, dtype=np.float64)
    reference = _put(np.asarray(played, dtype=np.float64), recorded.first_frame, len(heard))
    rate_hz, longest = recorded.rate_hz, round(LONGEST_LOOP * recorded.rate_hz)
    if len(heard) < 3:
        return None
    n = next_fast_len(len(heard) + longest, real=True)
    hz = rfftfreq(n, 1 / rate_hz)
    spectrum = np.where((hz >= BAND_HZ[0]) & (hz <= BAND_HZ[1]), rfft(reference, n), 0)
    cross = rfft(heard, n) * np.conj(spectrum)
    correlation = np.abs(irfft(cross, n)[: longest + 1])
    about = _highest(correlation, near, rate_hz)
    if likely is not None and correlation[mine := _highest(correlation, likely, rate_hz)] > DIRECT * correlation[about]:
        about = mine
    if correlation[about] == 0 or correlation[about] <= CLEAR * MAD_TO_SD * float(np.median(correlation)):
        return None
    power = np.abs(spectrum) ** 2
    response = irfft(cross / (power + BARE * power[power > 0].mean()), n)[: longest + 1]
    return _earliest(np.abs(response), about, round(ECHO * rate_hz), 1.0 if strongest else DIRECT) / rate_hz


def _highest(correlation: Floats, near: float | None, rate_hz: int) -> int:
    """Return the lag of the highest value, of all or near a time."""
    start, end = 0, len(correlation)
    if near is not None:
        about, half_width = round(near * rate_hz), round(ECHO * rate_hz)
        start, end = max(0, about - half_width), min(end, about + half_width + 1)
    return start + int(np.argmax(correlation[start:end]))


def _put(samples: Floats, first: int, n: int) -> Floats:
    """Return ``n`` samples from an index on, zero-padded."""
    out = np.zeros(n)
    start, end = max(first, 0), min(first + n, len(samples))
    if start < end:
        out[start - first : end - first] = samples[start:end]
    return out


def _earliest(response: Floats, about: int, half_width: int, least: float) -> float:
    """Return the lag of the earliest clear peak near a lag, in fractional samples."""
    start, end = max(0, about - half_width), min(len(response), about + half_width // 5 + 1)
    near = response[start:end]
    first = start + int(np.argmax(near >= least * near.max()))
    # up to the top of the peak whose slope that is
    while first + 1 < len(response) and response[first + 1] > response[first]:
        first += 1
    if not 0 < first < len(response) - 1:
        return float(first)
    left, middle, right = response[first - 1 : first + 2]
    curvature = float(left - 2 * middle + right)
    return first + (0.5 * float(left - right) / curvature if curvature < 0 else 0.0)


def lay_on_take(pieces: tuple[Recorded, ...], loops: list[float], *, frames: int) -> np.ndarray:
    """Return one recording whose first sample is at take time 0, zero-padded.

    Parameters
    ----------
    pieces : tuple of Recorded
        In the order in which they were made.
    loops : list of float
        The loop of each, in seconds; taken out, to the nearest sample.
    frames : int
        Length of the take.

    Returns
    -------
    numpy.ndarray, shape (frames,), float32
    """
    whole = np.zeros(frames, np.float32)
    for piece, loop in zip(pieces, loops, strict=True):
        first = piece.first_frame - round(loop * piece.rate_hz)
        start, end = max(first, 0), min(first + len(piece.samples), frames)
        if start < end:
            whole[start:end] = piece.samples[start - first : end - first]
    return whole


@dataclass(frozen=True)
class LoopChange:
    """A loop that is another from some time of a take on.

    Parameters
    ----------
    start, end : float
        Take time in seconds between which it changed.
    by : float
        Seconds by which what is played has come back later since.
    rate : float
        Rate at which it is played between start and end, relative to the one that was asked for: other than 1, nothing
        there is where it was heard.
    """

    start: float
    end: float
    by: float
    rate: float = 1.0


def find_changes(piece: Recorded, played: np.ndarray) -> tuple[list[Recorded], list[float], list[LoopChange]]:
    """Split the recording of one opening where its loop changes.

    Two successive stretches that agree on another loop tell of a change; one alone may be mistaken. A stretch in which
    it changed has the loop of its longer part.

    Returns
    -------
    pieces : list of Recorded
    loops : list of float
        The loop of each, in seconds.
    changes : list of LoopChange
        One fewer; none, and no pieces, where no stretch tells its loop. One more where another rate is heard.
    """
    step = round(STRETCH * piece.rate_hz)
    found: list[tuple[int, float]] = []
    likely = find_loop(piece, played, strongest=True)
    for at in range(0, len(piece.samples) - step // 2, step):
        loop = find_loop(_cut(piece, at, at + step), played, likely=likely, strongest=True)
        if loop is not None:
            found.append((at, loop))
            likely = loop
    runs: list[list[tuple[int, float]]] = []
    for k, (at, loop) in enumerate(found):
        now = float(np.median([known for _, known in runs[-1]])) if runs else math.nan
        beside = found[max(k - 1, 0) : k] + found[k + 1 : k + 2]
        if abs(loop - now) <= CHANGED / 2:
            runs[-1].append((at, loop))
        elif not abs(loop - now) < CHANGED and any(abs(other - loop) <= ALIKE for _, other in beside):
            runs.append([(at, loop)])
    loops = [float(np.median([loop for _, loop in run])) for run in runs]
    firsts = [0, *(run[0][0] for run in runs[1:]), len(piece.samples)]
    pieces = [_cut(piece, start, end) for start, end in pairwise(firsts)] if runs else []
    if len(runs) > 1:
        # the longest tells by how much the direct path is shorter than the strongest one, which is the same for all
        longest = max(range(len(runs)), key=lambda k: len(runs[k]))
        direct = find_loop(pieces[longest], played, near=loops[longest])
        loops = [loop + (0.0 if direct is None else direct - loops[longest]) for loop in loops]
    changes = [
        LoopChange(
            (piece.first_frame + before[-1][0] + step // 4) / piece.rate_hz - earlier,
            (piece.first_frame + after[0][0] + step // 2) / piece.rate_hz,
            later - earlier,
        )
        for (before, after), (earlier, later) in zip(pairwise(runs), pairwise(loops), strict=True)
    ]
    # one stretch alone may be mistaken
    alike = [(one, other) for one, other in pairwise(found) if abs(one[1] - other[1]) < DRIFTED]
    heard = {at for pair in alike for at, _ in pair}
    return pieces, loops, changes + _find_other_rate(piece, played, heard, step)


def _find_other_rate(piece: Recorded, played: np.ndarray, heard: set[int], step: int) -> list[LoopChange]:
    """Return the first two stretches or more in which what was played is heard, but faster or slower."""
    starts = list(range(0, len(piece.samples) - step // 2, step))
    first = next((at for at in starts if {at, at + step}.isdisjoint(heard) and at + step in starts), None)
    if first is None:
        return []
    end = next((at for at in starts if at > first and at in heard), len(piece.samples))
    rates = []
    for at in (first, first + step):
        samples = piece.samples[at : at + step].astype(np.float64)
        likeness = {rate: _likeness(samples, played, rate, piece.rate_hz) for rate in (1.0, *OTHER_RATES)}
        rates.append(max(likeness, key=lambda rate: likeness[rate]))
        other = max(each for rate, each in likeness.items() if rate != rates[-1])
        if likeness[rates[-1]] <= max(LIKELIER * other, ALIKE_ENOUGH):
            return []
    if rates[0] != rates[1] or rates[0] == 1:
        return []
    # it may have begun in the last stretch that was heard
    begun, over = ((piece.first_frame + each) / piece.rate_hz for each in (max(first - step, 0), end))
    return [LoopChange(begun, over, math.nan, rates[0])]


def _likeness(heard: Floats, played: np.ndarray, rate: float, rate_hz: int) -> float:
    """Return the highest correlation coefficient of a piece with what was played, if that was played at a rate."""
    from scipy.fft import irfft, next_fast_len, rfft, rfftfreq

    slower = np.interp(np.arange(0, len(heard), 1 / rate), np.arange(len(heard)), heard)
    n = next_fast_len(len(slower) + len(played), real=True)
    hz = rfftfreq(n, 1 / rate_hz)
    band = (hz >= BAND_HZ[0]) & (hz <= BAND_HZ[1])
    reference = np.asarray(played, dtype=np.float64)
    cross = irfft(np.where(band, rfft(reference, n) * np.conj(rfft(slower, n)), 0), n)
    power = float(np.sum(slower**2)) * float(np.sum(reference**2)) * len(slower) / max(len(reference), 1)
    return float(np.abs(cross).max()) / math.sqrt(power) if power else 0.0


def _cut(piece: Recorded, start: int, end: int) -> Recorded:
    return replace(piece, samples=piece.samples[start:end], first_frame=piece.first_frame + start)


def align(
    pieces: tuple[Recorded, ...], played: np.ndarray, *, otherwise: float
) -> tuple[np.ndarray, bool, list[LoopChange]]:
    """Return the recording of a take on the take clock, whether its alignment is known, and where the loop changed.

    Parameters
    ----------
    pieces : tuple of Recorded
    played : numpy.ndarray, shape (frames,)
        The take's samples.
    otherwise : float
        The loop of an opening in which nothing that was played can be heard, in seconds: as calibrated, or as the
        device tells.

    Returns
    -------
    samples : numpy.ndarray, shape (frames,), float32
        The first one is take time 0.
    reference : bool
        False where ``otherwise`` had to do.
    changes : list of LoopChange
    """
    laid, loops, changes, known = list[Recorded](), list[float](), list[LoopChange](), True
    for piece in pieces:
        parts, theirs, here = find_changes(piece, played)
        if not any(each.rate == 1 for each in here):
            loop = find_loop(piece, played)
            known = known and loop is not None
            parts, theirs = [piece], [otherwise if loop is None else loop]
        laid += parts
        loops += theirs
        changes += here
    return lay_on_take(tuple(laid), loops, frames=len(played)), known, changes
