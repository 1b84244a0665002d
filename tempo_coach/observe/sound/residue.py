"""The residue of a recording once the played music, whose samples are known, is taken out.

Loudspeaker, room and microphone answer each played sample with a short train of echoes. The train that leaves least is
found by least squares (Wiener's filter), the music through it is taken away, and what could not be taken away is known
to be some share of it: wherever the music was loud, the rest counts for less. Two clocks never run quite alike, and a
phone turns its own loudness up and down: first the line between the clocks is made finer, and in the end a short
filter for each second or two follows what changes.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from tempo_coach.music.files.sound import Sound, resample
from tempo_coach.observe.take.clock import MAD_TO_SD, ClockLine, fit_clock

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Wave = NDArray[np.float64]

#: Samples a second of everything here: contacts and vowels lie below 8 kHz.
RATE_HZ = 16_000
#: Seconds of echoes that are followed, and seconds before the direct sound that the filter may reach back.
ECHOES = 0.4
AHEAD = 0.006
#: Share of the played sound's power that is added at every pitch, so that pitches which were hardly played stay quiet.
#: Found on tunes through an invented hall: flat between 1e-5 and 1e-3.
STIFF = 1e-4
#: Seconds of the stretches whose delays are compared, and how far (s) a delay is looked for: first coarsely, as a line
#: found in a few seconds may be off by some hundred millionths, then finely.
_STRETCH = 4.0
_REACHES = (0.03, 0.002)
#: A stretch's delay counts where its peak stands so many times over the rest of the correlation.
_STANDS_OUT = 5.0
#: What is left is clipped at so many robust SDs of it while the room's answer is found again, so many times.
_CLIPPED = 2.0
_ROUNDS = 3
#: Seconds over which one short filter follows what changes, and its length to either side.
_CHANGES = 2.0
_SHORT = 0.002


@dataclass(frozen=True, eq=False)
class Residue:
    """A recording with the played sound taken out, on the recording's clock at ``RATE_HZ``.

    Parameters
    ----------
    rest : numpy.ndarray, shape (n,)
        What is left.
    played : numpy.ndarray, shape (n,)
        What was taken out; zeros where nothing was played.
    """

    rest: Wave
    played: Wave

    @property
    def removed_db(self) -> float:
        """By how much the recording became quieter, in decibels: the power before over the power after."""
        before = float(np.mean((self.rest + self.played) ** 2)) if len(self.rest) else 0.0
        after = float(np.mean(self.rest**2)) if len(self.rest) else 0.0
        return 10 * float(np.log10(before / after)) if before > 0 and after > 0 else 0.0


def remove_played(recording: Sound, played: Sound | None, line: ClockLine | None = None) -> Residue:
    """Take the played sound out of a recording.

    Parameters
    ----------
    recording : Sound
    played : Sound or None
        What was played; None leaves the recording as it is.
    line : ClockLine or None
        From seconds of the recording to seconds of what was played, within some milliseconds and some hundred
        millionths of the rate; needed where something was played.

    Raises
    ------
    ValueError
        If something was played and the line is missing.
    """
    heard = to_wave(recording)
    if played is None or not len(played.samples) or not len(heard):
        return Residue(heard, np.zeros_like(heard))
    if line is None:
        raise ValueError("expected the line from the recording's clock to that of what was played")
    sides = _sides(played)
    line = refine_line(heard, sides[0], line)
    rest, total = heard, np.zeros_like(heard)
    for wave in sides:
        known = _on_recording(wave, line, len(heard))
        if known.any():
            answer = _follow(rest, _robust_answer(rest, known))
            rest, total = rest - answer, total + answer
    return Residue(rest, total)


def refine_line(heard: Wave, played: Sound, line: ClockLine) -> ClockLine:
    """Return the line between two clocks made finer by the delays of short stretches of the recording.

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
        As it was where fewer than three stretches tell.
    """
    length = round(_STRETCH * RATE_HZ)
    starts = np.arange(0, len(heard) - length + 1, length // 2)
    for reach in _REACHES:
        known = _on_recording(played, line, len(heard))
        if reach == _REACHES[-1]:
            # against what the room made of it: the echoes are the same in all stretches, only the clocks move
            known = filter_answer(heard, known, ahead=AHEAD, echoes=ECHOES)
        least = 0.01 * max((float(np.mean(known[k : k + length] ** 2)) for k in starts), default=0.0)
        found = []
        for start in starts:
            part = slice(start, start + length)
            if np.mean(known[part] ** 2) > least:
                late = _delay(heard[part], known[part], reach)
                if late is not None:
                    found.append((start / RATE_HZ + _STRETCH / 2, late))
        if len(found) < 3:
            return line
        # known at t is heard `late` later: what is heard at t was played at t - late on the line
        times, lates = np.array(found).T
        moved = fit_clock(times, line.to_second(times - lates))
        line = ClockLine(moved.origin, moved.offset, moved.rate, line.residual_sd, line.n)
    return line


def filter_answer(heard: Wave, known: Wave, *, ahead: float, echoes: float) -> Wave:
    """Return what of a recording a filter of the known wave explains: Wiener's, by least squares.

    Parameters
    ----------
    heard, known : numpy.ndarray, shape (n,)
        At ``RATE_HZ``.
    ahead, echoes : float
        Seconds by which the filter reaches before the known wave and behind it.

    Returns
    -------
    numpy.ndarray, shape (n,)
    """
    from scipy.fft import irfft, next_fast_len, rfft
    from scipy.linalg import solve_toeplitz

    before = round(ahead * RATE_HZ)
    taps = min(round(echoes * RATE_HZ) + before + 1, len(heard))
    size = next_fast_len(len(heard) + taps, real=True)
    spectrum = rfft(known, size)
    own = irfft(np.abs(spectrum) ** 2, size)[:taps]
    if own[0] <= 0:
        return np.zeros_like(heard)
    # The filter may begin before the direct sound: the recording is moved later by as much.
    across = irfft(rfft(np.concatenate([np.zeros(before), heard]), size) * np.conj(spectrum), size)[:taps]
    own[0] *= 1 + STIFF
    filtered = irfft(spectrum * rfft(solve_toeplitz(own, across), size), size)
    return np.asarray(filtered[before : before + len(heard)], dtype=np.float64)


def to_wave(sound: Sound) -> Wave:
    """Return a sound as one channel at ``RATE_HZ``, shape (n,)."""
    one = resample(Sound(sound.mono()[:, np.newaxis], sound.rate_hz), RATE_HZ)
    return np.asarray(one.samples[:, 0], dtype=np.float64)


def _sides(played: Sound) -> list[Sound]:
    """Both channels together, then what they differ in: a cue that comes from one side has both."""
    together = [Sound(played.mono()[:, np.newaxis], played.rate_hz)]
    if played.channels == 2:
        apart = np.asarray((played.samples[:, :1] - played.samples[:, 1:]) / 2, dtype=np.float32)
        if np.abs(apart).max(initial=0.0) > 0:
            together.append(Sound(apart, played.rate_hz))
    return together


def _on_recording(wave: Sound, line: ClockLine, length: int) -> Wave:
    """The played wave at the recording's own samples, shape (length,)."""
    import soxr  # type: ignore[import-untyped, unused-ignore]  # it ships no types

    # A second of the recording is `rate` seconds of the played sound: so many samples of it make RATE_HZ there.
    stretched = soxr.resample(wave.samples[:, 0].astype(np.float64), wave.rate_hz * line.rate, RATE_HZ, quality="HQ")
    first = round(line.to_first(0.0) * RATE_HZ)
    out = np.zeros(length)
    begin, end = max(first, 0), min(first + len(stretched), length)
    if begin < end:
        out[begin:end] = stretched[begin - first : end - first]
    return out


def _delay(heard: Wave, known: Wave, reach: float) -> float | None:
    """By how many seconds a stretch is heard late, to a part of a sample; None where nothing stands out.

    By the correlation with half of each spectrum's size taken out (Knapp & Carter 1976), at four times the rate.
    """
    from scipy.fft import irfft, next_fast_len, rfft

    finer = 4
    room = round(reach * RATE_HZ)
    size = next_fast_len(len(heard) + room, real=True)
    across = rfft(heard, size) * np.conj(rfft(known, size))
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


def _robust_answer(heard: Wave, known: Wave) -> Wave:
    """The room's answer, found again with what was done clipped: else the filter imitates some of it.

    Huber's regression by pseudo-observations (Huber & Dutter 1974, from memory).
    """
    answer = filter_answer(heard, known, ahead=AHEAD, echoes=ECHOES)
    for _ in range(_ROUNDS):
        left = heard - answer
        most = _CLIPPED * MAD_TO_SD * float(np.median(np.abs(left)))
        answer = filter_answer(answer + np.clip(left, -most, most), known, ahead=AHEAD, echoes=ECHOES)
    return answer


def _follow(heard: Wave, answer: Wave) -> Wave:
    """The room's answer with a short filter for each stretch, faded into each other: loudness and clocks move."""
    length = min(round(_CHANGES * RATE_HZ), len(heard)) // 2 * 2
    if length < RATE_HZ // 4:
        return answer
    half = length // 2
    window = np.sin(np.pi * (np.arange(length) + 0.5) / length) ** 2
    padded_heard, padded = (np.pad(wave, (half, length)) for wave in (heard, answer))
    out = np.zeros_like(padded)
    for start in range(0, len(heard) + half, half):
        part = slice(start, start + length)
        out[part] += window * filter_answer(padded_heard[part], padded[part], ahead=_SHORT, echoes=_SHORT)
    return out[half : half + len(heard)]
