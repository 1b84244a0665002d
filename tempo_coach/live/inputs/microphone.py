"""The microphone's samples of a take, put on the take clock: pure.

One full-duplex stream plays and records, so input and output are synchronous to the sample while it is open. The
**loop**, the latency through buffers, loudspeaker, air and microphone, differs between openings. Device times do not
give it (on one server they were 38 ms off at one opening and 1 ms at the next), so it is measured by correlation with
the played samples.
"""

from __future__ import annotations

from dataclasses import dataclass
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


def find_loop(recorded: Recorded, played: np.ndarray, *, near: float | None = None) -> float | None:
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
    start, end = 0, len(correlation)
    if near is not None:
        about, half_width = round(near * rate_hz), round(ECHO * rate_hz)
        start, end = max(0, about - half_width), min(end, about + half_width + 1)
    about = start + int(np.argmax(correlation[start:end]))
    if correlation[about] == 0 or correlation[about] <= CLEAR * MAD_TO_SD * float(np.median(correlation)):
        return None
    power = np.abs(spectrum) ** 2
    response = irfft(cross / (power + BARE * power[power > 0].mean()), n)[: longest + 1]
    return _earliest(np.abs(response), about, round(ECHO * rate_hz)) / rate_hz


def _put(samples: Floats, first: int, n: int) -> Floats:
    """Return ``n`` samples from an index on, zero-padded."""
    out = np.zeros(n)
    start, end = max(first, 0), min(first + n, len(samples))
    if start < end:
        out[start - first : end - first] = samples[start:end]
    return out


def _earliest(response: Floats, about: int, half_width: int) -> float:
    """Return the lag of the earliest clear peak near a lag, in fractional samples."""
    start, end = max(0, about - half_width), min(len(response), about + half_width // 5 + 1)
    near = response[start:end]
    first = start + int(np.argmax(near >= DIRECT * near.max()))
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


def align(pieces: tuple[Recorded, ...], played: np.ndarray, *, otherwise: float) -> tuple[np.ndarray, bool]:
    """Return the recording of a take on the take clock, and whether its alignment is known.

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
    """
    loops = [find_loop(piece, played) for piece in pieces]
    taken = [otherwise if loop is None else loop for loop in loops]
    return lay_on_take(pieces, taken, frames=len(played)), None not in loops
