"""The microphone's samples of a take, put on the take clock: pure.

One stream plays and records: within one opening of the device the samples that come in keep step with those that go
out, to the sample. What lies between them, the **loop** through buffers, loudspeaker, air and microphone, is another
one at each opening. Device times do not tell it (on one server they were 38 ms off at one opening and 1 ms at the
next), so it is measured: what was played is known, and is heard again in what was recorded.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from tempo_coach.observe.take.clock import MAD_TO_SD

if TYPE_CHECKING:
    from tempo_coach.times import Floats

#: Seconds of loop that are looked for: wireless loudspeakers take 0.3, and the longest buffers about half.
LONGEST_LOOP = 1.0
#: How far the peak of the likeness must stand out of what else is there, in robust SDs: noise alone reaches 5 to 6
#: among 50 000 places.
CLEAR = 9.0
#: An earlier peak of this share of the highest one is the direct way, and the highest an echo.
DIRECT = 0.6
#: Seconds before the highest peak in which the direct way is looked for: 17 m of detour.
ECHO = 0.05
#: What is divided out is taken to be at least this share of its usual power: where nothing was played, noise is not
#: made louder.
BARE = 0.03
#: What is compared, in Hz: what small loudspeakers and microphones both let through.
BAND_HZ = (300.0, 8000.0)


@dataclass(frozen=True, eq=False)
class Recorded:
    """What was recorded in one opening of the device.

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
    """Return the loop of an opening in seconds, by what was played in it.

    The cross-correlation says about where it is, also where cues repeat evenly. Near there what was played is divided
    out of what was heard: that leaves the way itself, sharp also for sounds with a pitch, and its earliest clear peak
    is the direct way, whatever the room answers.

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
        None where nothing that was played can be heard in it: with headphones, or a loudspeaker that is off.
    """
    from scipy.fft import irfft, next_fast_len, rfft, rfftfreq

    heard = np.asarray(recorded.samples, dtype=np.float64)
    known = _put(np.asarray(played, dtype=np.float64), recorded.first_frame, len(heard))
    rate_hz, longest = recorded.rate_hz, round(LONGEST_LOOP * recorded.rate_hz)
    if len(heard) < 3:
        return None
    n = next_fast_len(len(heard) + longest, real=True)
    hz = rfftfreq(n, 1 / rate_hz)
    spectrum = np.where((hz >= BAND_HZ[0]) & (hz <= BAND_HZ[1]), rfft(known, n), 0)
    cross = rfft(heard, n) * np.conj(spectrum)
    likeness = np.abs(irfft(cross, n)[: longest + 1])
    start, end = 0, len(likeness)
    if near is not None:
        about, reach = round(near * rate_hz), round(ECHO * rate_hz)
        start, end = max(0, about - reach), min(end, about + reach + 1)
    about = start + int(np.argmax(likeness[start:end]))
    if likeness[about] == 0 or likeness[about] <= CLEAR * MAD_TO_SD * float(np.median(likeness)):
        return None
    power = np.abs(spectrum) ** 2
    way = irfft(cross / (power + BARE * power[power > 0].mean()), n)[: longest + 1]
    return _earliest(np.abs(way), about, round(ECHO * rate_hz)) / rate_hz


def _put(samples: Floats, first: int, n: int) -> Floats:
    """The samples from one of that number on, with silence before the first and after the last."""
    out = np.zeros(n)
    start, end = max(first, 0), min(first + n, len(samples))
    if start < end:
        out[start - first : end - first] = samples[start:end]
    return out


def _earliest(way: Floats, about: int, reach: int) -> float:
    """Place of the earliest clear peak near a place, in samples and parts of one."""
    start, end = max(0, about - reach), min(len(way), about + reach // 5 + 1)
    near = way[start:end]
    first = start + int(np.argmax(near >= DIRECT * near.max()))
    # up to the top of the peak whose slope that is
    while first + 1 < len(way) and way[first + 1] > way[first]:
        first += 1
    if not 0 < first < len(way) - 1:
        return float(first)
    left, middle, right = way[first - 1 : first + 2]
    bend = float(left - 2 * middle + right)
    return first + (0.5 * float(left - right) / bend if bend < 0 else 0.0)


def lay_on_take(pieces: tuple[Recorded, ...], loops: list[float], *, frames: int) -> np.ndarray:
    """Return one recording whose first sample is take time 0; silence where nothing was recorded.

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
    """Return what was recorded during a take on the take clock, and whether it is known to lie there.

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
    known : bool
        False where ``otherwise`` had to do.
    """
    loops = [find_loop(piece, played) for piece in pieces]
    taken = [otherwise if loop is None else loop for loop in loops]
    return lay_on_take(pieces, taken, frames=len(played)), None not in loops
