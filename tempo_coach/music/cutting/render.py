"""Samples of a cut list: pieces joined by crossfades, with silence and a tone before them."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from tempo_coach.music.cutting.cut_list import TONE_S
from tempo_coach.music.files.sound import Sound

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from tempo_coach.music.cutting.cut_list import CutList

#: Seconds of a crossfade, and by how much it is over before the attack after it: the attack itself stays whole.
CROSSFADE, CLEAR = 0.020, 0.005
#: Seconds of a crossfade where nothing is struck: it lies around the joint.
SOFT_CROSSFADE = 0.080
#: Seconds over which music comes in and goes out where it is cut, so that neither clicks.
EDGE = 0.010
#: The tone before the music: pitch in hertz, level in dB of full scale, and seconds over which it comes and goes.
TONE_HZ, _TONE_DB, _TONE_EDGE = 1000.0, -18.0, 0.02


def render(sound: Sound, cut: CutList) -> Sound:
    """Return the samples of a cut list; the same list always gives the same samples.

    Parameters
    ----------
    sound : Sound
        As long as the last of its pieces needs, at least.
    cut : CutList

    Returns
    -------
    Sound
        Rate and channels of ``sound``; ``round(cut.duration * rate)`` samples, within one for each piece.
    """
    rate_hz = sound.rate_hz
    spans = [(round(each.start * rate_hz), round(each.end * rate_hz)) for each in cut.pieces]
    begin = round(cut.begin * rate_hz)
    made = np.zeros((begin + sum(last - first for first, last in spans), sound.channels), np.float32)
    at = begin
    for first, last in spans:
        made[at : at + last - first] = sound.samples[first:last]
        at += last - first
    at = begin
    for k, (first, last) in enumerate(spans):
        if k:
            _cross(made, sound, at, spans[k - 1], (first, last), soft=cut.pieces[k].soft)
        at += last - first
    edge = round(EDGE * rate_hz)
    made[begin : begin + edge] *= _rise(min(edge, len(made) - begin))[:, None]
    fade = min(max(round(cut.fade * rate_hz), edge), len(made) - begin)
    made[len(made) - fade :] *= _rise(fade)[::-1, None]
    made[begin:] *= np.float32(10 ** (cut.gain_db / 20))
    if cut.tone:
        tone = _tone(rate_hz)
        made[: tone.size] += tone[:, None]
    made.flags.writeable = False
    return Sound(made, rate_hz)


def _cross(
    made: NDArray[np.float32], sound: Sound, at: int, left: tuple[int, int], right: tuple[int, int], *, soft: bool
) -> None:
    """Write the crossfade of a joint at sample ``at``."""
    length = round((SOFT_CROSSFADE if soft else CROSSFADE) * sound.rate_hz)
    behind = length // 2 if soft else -round(CLEAR * sound.rate_hz)
    # no further than the pieces go
    before = min(length - behind, (left[1] - left[0]) // 2)
    behind = min(behind, (right[1] - right[0]) // 2)
    steps = np.arange(-before, behind)
    if not steps.size:
        return
    out, come = _read(sound, left[1] + steps), _read(sound, right[0] + steps)
    share = (np.arange(steps.size) + 0.5) / steps.size
    leaving, coming = np.cos(0.5 * math.pi * share), np.sin(0.5 * math.pi * share)
    # what sounds alike on both sides adds up by amplitude, all else by power
    alike = max(0.0, _correlation(out, come))
    level = np.sqrt(1 + 2 * alike * leaving * coming)
    made[at + steps] = ((out * leaving[:, None] + come * coming[:, None]) / level[:, None]).astype(np.float32)
    # behind a crossfade that is over before its joint the next piece is heard already
    rest = np.arange(behind, 0)
    made[at + rest] = _read(sound, right[0] + rest)


def _read(sound: Sound, places: NDArray[np.int64]) -> NDArray[np.float32]:
    """Return samples at given indices, zeros outside the sound."""
    inside = (places >= 0) & (places < len(sound.samples))
    found = np.zeros((places.size, sound.channels), np.float32)
    found[inside] = sound.samples[places[inside]]
    return found


def _correlation(a: NDArray[np.float32], b: NDArray[np.float32]) -> float:
    one, other = a.astype(np.float64).ravel(), b.astype(np.float64).ravel()
    both = math.sqrt(float(one @ one) * float(other @ other))
    return float(one @ other) / both if both > 0 else 0.0


def _rise(length: int) -> NDArray[np.float32]:
    """Return a ramp from 0 to 1 with a slope of 0 at both ends."""
    return np.asarray(0.5 - 0.5 * np.cos(math.pi * (np.arange(length) + 0.5) / max(length, 1)), np.float32)


def _tone(rate_hz: int) -> NDArray[np.float32]:
    seconds = np.arange(round(TONE_S * rate_hz)) / rate_hz
    edge = np.minimum(1, np.minimum(seconds, seconds[::-1]) / _TONE_EDGE)
    return np.asarray(10 ** (_TONE_DB / 20) * edge * np.sin(2 * math.pi * TONE_HZ * seconds), np.float32)
