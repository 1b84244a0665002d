"""The residual of a recording after cancellation of the played music, whose samples are the reference.

The response of loudspeaker, room and microphone is estimated by least squares (a Wiener filter), and the filtered
reference is subtracted. The residual music is a share of the reference, so the residual counts for less where that was
loud. Clocks drift and phones change their gain: the line between the clocks is refined first, and at the end a short
filter every second or two adapts to what changes.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from tempo_coach.music.files.sound import Sound, resample
from tempo_coach.observe.take.clock import MAD_TO_SD, ClockLine, fit_clock

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    Wave = NDArray[np.float64]

#: Sample rate of the analysis: contacts and vowels lie below 8 kHz.
RATE_HZ = 16_000
#: Length of the response after the direct sound, and before it (s).
ECHOES = 0.4
AHEAD = 0.006
#: Regularisation of the filter, relative to the power of the reference, so that frequencies which were hardly played
#: stay quiet. Tuned on tunes through an invented hall: flat between 1e-5 and 1e-3.
REGULARISATION = 1e-4
#: Length of the segments whose delays are compared, and the search ranges of a delay (s): coarse first, since a line
#: fitted to a few seconds may be off by some hundred ppm, then fine.
_STRETCH = 4.0
_SEARCH_RANGES = (0.03, 0.002)
#: Least ratio of the peak to the RMS of the correlation.
_STANDS_OUT = 5.0
#: Huber's clipping of the residual in robust SDs, and the iterations of the response.
_CLIPPED = 2.0
_ROUNDS = 3
#: Block of the adaptive filter, and its length to either side (s).
_CHANGES = 2.0
_SHORT = 0.002


@dataclass(frozen=True, eq=False)
class Residual:
    """A recording with the played sound cancelled, on the recording's clock at ``RATE_HZ``.

    Parameters
    ----------
    wave : numpy.ndarray, shape (n,)
        The recording less the played sound.
    played : numpy.ndarray, shape (n,)
        The played sound in the recording, as estimated; zeros where nothing was played.
    """

    wave: Wave
    played: Wave


def remove_played(recording: Sound, played: Sound | None, line: ClockLine | None = None) -> Residual:
    """Cancel the played sound in a recording.

    Parameters
    ----------
    recording : Sound
    played : Sound or None
        The reference; None leaves the recording as it is.
    line : ClockLine or None
        From seconds of the recording to seconds of the played sound, within some milliseconds and some hundred ppm;
        required with a reference.

    Raises
    ------
    ValueError
        If something was played and the line is missing.
    """
    heard = to_wave(recording)
    if played is None or not len(played.samples) or not len(heard):
        return Residual(heard, np.zeros_like(heard))
    if line is None:
        raise ValueError("expected the line from the recording's clock to that of what was played")
    sides = _sides(played)
    line = refine_line(heard, sides[0], line)
    residual, total = heard, np.zeros_like(heard)
    for wave in sides:
        reference = _on_recording(wave, line, len(heard))
        if reference.any():
            response = _adapt(residual, _robust_response(residual, reference))
            residual, total = residual - response, total + response
    return Residual(residual, total)


def refine_line(heard: Wave, played: Sound, line: ClockLine) -> ClockLine:
    """Refine the line between two clocks by the delays of short segments of the recording.

    Parameters
    ----------
    heard : numpy.ndarray, shape (n,)
        The recording at ``RATE_HZ``.
    played : Sound
        Of one channel.
    line : ClockLine
        From seconds of the recording to seconds of what was played.

    Returns
    -------
    ClockLine
        Unchanged where fewer than three segments have a clear delay.
    """
    length = round(_STRETCH * RATE_HZ)
    starts = np.arange(0, len(heard) - length + 1, length // 2)
    for max_lag in _SEARCH_RANGES:
        reference = _on_recording(played, line, len(heard))
        if max_lag == _SEARCH_RANGES[-1]:
            # against the filtered reference: the response is the same in all segments, only the clocks drift
            reference = wiener_filter(heard, reference, ahead=AHEAD, echoes=ECHOES)
        least = 0.01 * max((float(np.mean(reference[k : k + length] ** 2)) for k in starts), default=0.0)
        found = []
        for start in starts:
            part = slice(start, start + length)
            if np.mean(reference[part] ** 2) > least:
                late = _delay(heard[part], reference[part], max_lag)
                if late is not None:
                    found.append((start / RATE_HZ + _STRETCH / 2, late))
        if len(found) < 3:
            return line
        # known at t is heard `late` later: what is heard at t was played at t - late on the line
        times, lates = np.array(found).T
        moved = fit_clock(times, line.to_second(times - lates))
        line = ClockLine(moved.origin, moved.offset, moved.rate, line.residual_sd, line.n)
    return line


def wiener_filter(heard: Wave, reference: Wave, *, ahead: float, echoes: float) -> Wave:
    """Return the least-squares filtered reference (Wiener filter): the part of a recording that it explains.

    Parameters
    ----------
    heard, reference : numpy.ndarray, shape (n,)
        At ``RATE_HZ``.
    ahead, echoes : float
        Length of the filter before and after the reference, in seconds.

    Returns
    -------
    numpy.ndarray, shape (n,)
    """
    return make_filter(reference, ahead=ahead, echoes=echoes)(heard)


def make_filter(reference: Wave, *, ahead: float, echoes: float) -> Callable[[Wave], Wave]:
    """Return :func:`wiener_filter` of one reference, for recordings as long as that.

    The normal equations are those of a Toeplitz matrix, whose inverse is known from its first column: each recording
    after the first takes Fourier transforms alone (I. C. Gohberg and A. A. Semencul 1972, from memory; held against
    least squares in the tests).

    Parameters
    ----------
    reference, ahead, echoes
        As in :func:`wiener_filter`.
    """
    from scipy.fft import irfft, next_fast_len, rfft
    from scipy.linalg import solve_toeplitz

    length = len(reference)
    before = round(ahead * RATE_HZ)
    taps = min(round(echoes * RATE_HZ) + before + 1, length)
    size = next_fast_len(length + taps, real=True)
    spectrum = rfft(reference, size)
    own = irfft(np.abs(spectrum) ** 2, size)[:taps]
    if own[0] <= 0:
        return np.zeros_like
    own[0] *= 1 + REGULARISATION
    column = solve_toeplitz(own, np.eye(1, taps)[0])
    small = next_fast_len(2 * taps, real=True)
    # of the two triangular Toeplitz matrices whose products make the inverse
    both = [rfft(each, small) for each in (column, np.concatenate([[0.0], column[:0:-1]]))]

    def solve(across: Wave) -> Wave:
        found = rfft(across, small)
        ahead_of, behind = (
            irfft(each * rfft(irfft(np.conj(each) * found, small)[:taps], small), small)[:taps] for each in both
        )
        return np.asarray((ahead_of - behind) / column[0])

    def explain(heard: Wave) -> Wave:
        # The filter may begin before the direct sound: the recording is moved later by as much.
        later = rfft(np.concatenate([np.zeros(before), heard]), size)
        filtered = irfft(spectrum * rfft(solve(irfft(later * np.conj(spectrum), size)[:taps]), size), size)
        return np.asarray(filtered[before : before + length], dtype=np.float64)

    return explain


def to_wave(sound: Sound) -> Wave:
    """Return a sound as one channel at ``RATE_HZ``, shape (n,)."""
    one = resample(Sound(sound.mono()[:, np.newaxis], sound.rate_hz), RATE_HZ)
    return np.asarray(one.samples[:, 0], dtype=np.float64)


def _sides(played: Sound) -> list[Sound]:
    """Return the sum and the difference of the channels: a cue from one side is in both."""
    together = [Sound(played.mono()[:, np.newaxis], played.rate_hz)]
    if played.channels == 2:
        apart = np.asarray((played.samples[:, :1] - played.samples[:, 1:]) / 2, dtype=np.float32)
        if np.abs(apart).max(initial=0.0) > 0:
            together.append(Sound(apart, played.rate_hz))
    return together


def _on_recording(wave: Sound, line: ClockLine, length: int) -> Wave:
    """Return the played wave resampled at the recording's own samples, shape (length,)."""
    import soxr  # type: ignore[import-untyped, unused-ignore]  # it ships no types

    # A second of the recording is `rate` seconds of the played sound: so many samples of it make RATE_HZ there.
    stretched = soxr.resample(wave.samples[:, 0].astype(np.float64), wave.rate_hz * line.rate, RATE_HZ, quality="HQ")
    first = round(line.to_first(0.0) * RATE_HZ)
    out = np.zeros(length)
    begin, end = max(first, 0), min(first + len(stretched), length)
    if begin < end:
        out[begin:end] = stretched[begin - first : end - first]
    return out


def _delay(heard: Wave, reference: Wave, max_lag: float) -> float | None:
    """Return the delay of a segment in seconds, to a fraction of a sample; None without a clear peak.

    Generalised cross-correlation with the square root of the magnitude as weight (Knapp & Carter 1976), at four times
    the rate.
    """
    from scipy.fft import irfft, next_fast_len, rfft

    finer = 4
    room = round(max_lag * RATE_HZ)
    size = next_fast_len(len(heard) + room, real=True)
    across = rfft(heard, size) * np.conj(rfft(reference, size))
    weight = np.sqrt(np.abs(across))
    across /= weight + 1e-6 * float(weight.max(initial=0.0)) + 1e-300
    both = irfft(across, finer * size)
    room *= finer
    near = np.abs(np.concatenate([both[-room:], both[: room + 1]]))
    at = int(np.argmax(near))
    if not 0 < at < 2 * room or near[at] < _STANDS_OUT * float(np.sqrt(np.mean(both**2))):
        return None
    left, top, right = near[at - 1 : at + 2]
    return float((at - room + 0.5 * (left - right) / (left - 2 * top + right)) / (finer * RATE_HZ))


def _robust_response(heard: Wave, reference: Wave) -> Wave:
    """Return the filtered reference by robust regression; otherwise the filter imitates some contacts.

    Huber's regression by pseudo-observations (Huber & Dutter 1974, from memory).
    """
    explain = make_filter(reference, ahead=AHEAD, echoes=ECHOES)
    response = explain(heard)
    for _ in range(_ROUNDS):
        left = heard - response
        most = _CLIPPED * MAD_TO_SD * float(np.median(np.abs(left)))
        response = explain(response + np.clip(left, -most, most))
    return response


def _adapt(heard: Wave, response: Wave) -> Wave:
    """Return the filtered reference, adapted block by block (overlap-add) as gain and clocks drift."""
    length = min(round(_CHANGES * RATE_HZ), len(heard)) // 2 * 2
    if length < RATE_HZ // 4:
        return response
    half = length // 2
    window = np.sin(np.pi * (np.arange(length) + 0.5) / length) ** 2
    padded_heard, padded = (np.pad(wave, (half, length)) for wave in (heard, response))
    out = np.zeros_like(padded)
    for start in range(0, len(heard) + half, half):
        part = slice(start, start + length)
        out[part] += window * wiener_filter(padded_heard[part], padded[part], ahead=_SHORT, echoes=_SHORT)
    return out[half : half + len(heard)]
