"""The metrical level of found beats: the evidence for counting them at another tempo."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from tempo_coach.music.beats.features import FINE_HZ, FRAME_HZ
from tempo_coach.music.beats.network import TEMPI

if TYPE_CHECKING:
    from tempo_coach.music.beats.features import Curve
    from tempo_coach.music.beats.network import Activations
    from tempo_coach.times import Floats, Ints

# Thresholds were chosen on 400 developing pieces, where nothing else is said; of those that go at the right level none
# is taken for half of what is counted.

#: Beats a minute below which counts may be twice as fast, and from which half as fast or one and a half times as fast
#: (a bar of two times three taken for four).
SLOW_BPM, QUICK_BPM, _NOT_THREE_BPM = 78.0, 98.0, 110.0
#: Least chance of a bar on the weaker of two alternating beats, and its least part of that on the stronger one, for
#: bars of two; the sum of both that is enough where the network hears beats between as well, and how likely these are.
_IN_TWO, _ALIKE, _BOTH, _BETWEEN = 0.65, 0.83, 1.24, 0.05
#: How much is to begin half-way between beats, beside what begins on them, and beside what does at their thirds: bars
#: of two times three (6/8) are never counted in four.
_HALF_WAY, _BESIDE_THIRDS = 0.3, 0.85
# What follows was chosen on 188 pieces, 112 of them in grooves whose level is easily missed.
#: What speaks for twice the tempo. Of slow beats: the part of the chance of a bar two beats after one, how much begins
#: half-way, and beside thirds. Of others: the quickest, how much begins half-way, and the most at thirds beside it.
_ALSO_TWO, _SOME_HALF_WAY, _MORE_THAN_THIRDS = 0.5, 0.2, 1.5
_NOT_TWICE_BPM, _ALL_HALF_WAY, _FEW_THIRDS = 105.0, 1.0, 0.2
#: Probability of twice and of half the tempo from which either may be what is counted.
_TWICE_HEARD, _HALF_HEARD = 0.5, 0.9
#: Beats so quick, in bars of three heard so surely, may be halves of what is counted.
_VERY_QUICK_BPM, _SURELY_THREE = 170.0, 0.8
#: How much begins at the thirds, and how many times as much as half-way, where three quicker beats fit as well as two.
_THIRDS, _BESIDE_HALF = 0.8, 2.5
#: Chance of a bar below which bars of four (or three) are unclear, and probability of half and of two thirds of the
#: tempo from which they may be what is counted then; the part of the stronger of every two beats up to which they alone
#: may be, and the chance of a bar two beats after one.
_UNCLEAR, _SOME_HALF, _LESS_HEARD, _WEAKER, _MAY_BE_TWO = 0.75, 0.18, 0.35, 0.42, 0.4
#: Probability of one and a half times the tempo from which it may be what is counted; that, and the chance of a bar,
#: where bars are as unclear; octaves about a tempo.
_MORE_HEARD, _SOME_HEARD, _VERY_UNCLEAR, _AROUND = 0.3, 0.08, 0.68, 0.1
#: Beats in which the bar is settled anew, in bars of four (and of three).
_SETTLED_OVER = {4: 16, 3: 24}
#: Seconds on either side in which what begins is looked for.
_NEAR = 0.02


class Pulse(NamedTuple):
    """Evidence on a metrical level: beats a minute, bar probabilities, and onset strength on and between the beats.

    Attributes
    ----------
    bpm : float
        Median tempo.
    bar, weaker, bar_of_three : float
        Mean chance of a bar on the likeliest of every four beats, two beats after it, and on that of every three.
    between, alternate : float
        Mean activation half-way between beats; median on the weaker of every two beats, as a part of the stronger.
    half, third : float
        What begins half-way between beats, and at their thirds, as a part of what begins on them.
    heard : Activations
    """

    bpm: float
    bar: float
    weaker: float
    bar_of_three: float
    between: float
    alternate: float
    half: float
    third: float
    heard: Activations

    def likelihood(self, ratio: float) -> float:
        """Return the mean probability of a multiple of the tempo."""
        near = np.abs(np.log2(TEMPI / (self.bpm * ratio))) < _AROUND
        return float(self.heard.tempo[:, near].sum(axis=1).mean())


def feel_pulse(times: Floats, heard: Activations, fine: Curve) -> Pulse | None:
    """Return the evidence on the level of beats; None with fewer than four bars.

    Parameters
    ----------
    times : array, shape (n,)
        Beats in seconds.
    heard : Activations
        What the network hears, by frame.
    fine : array, shape (m,), float32
        Onset strength at ``FINE_HZ``.
    """
    if len(times) < _SETTLED_OVER[4]:
        return None
    steps = np.diff(times)
    frames = np.round(times * FRAME_HZ).astype(np.intp)
    middles = np.round((times[:-1] + steps / 2) * FRAME_HZ).astype(np.intp)
    near, between = _around(heard.beat, frames, 3), _around(heard.beat, middles, 3)
    ones = np.minimum(_around(heard.downbeat, frames, 2) / np.maximum(_around(heard.beat, frames, 2), 1e-3), 1.0)
    bar, weaker = _settle(ones, 4)
    odd, even = sorted((float(np.median(near[::2])), float(np.median(near[1::2]))))
    on, half, third = (_begun(times, fine, parts) for parts in ((0.0,), (0.5,), (1 / 3, 2 / 3)))
    return Pulse(
        float(60 / np.median(steps)),
        bar,
        weaker,
        _settle(ones, 3)[0],
        float(between.mean()),
        odd / max(even, 1e-9),
        half / max(on, 1e-9),
        third / max(on, 1e-9),
        heard,
    )


def is_half_of_what_is_counted(pulse: Pulse) -> bool:
    """Return whether slow beats in bars of two are really bars of four at twice the tempo.

    Notes
    -----
    A bar has four counts more often than two (common practice), and what is counted in eights goes at some 80 to 160
    a minute; so of the two readings of the same bar lines the quicker one is taken.
    """
    in_two = pulse.weaker >= max(_IN_TWO, _ALIKE * pulse.bar)
    heard_twice = pulse.between >= _BETWEEN and pulse.weaker + pulse.bar >= _BOTH
    return pulse.bpm < SLOW_BPM and _halves(pulse) and (in_two or heard_twice)


def find_other_level(pulse: Pulse) -> float | None:
    """Return 2, 1/2, 3/2 or 2/3 where that multiple of the tempo may be the counted one, else None.

    Of 64 pieces that nothing was chosen on, half of them in grooves whose level is easily missed, it holds for 13 of
    the 16 that are at a wrong level (a third of the tempo is never told) and for 6 of the 48 others.
    """
    in_two = pulse.weaker >= _ALSO_TWO * pulse.bar
    begins = pulse.half >= max(_SOME_HALF_WAY, _MORE_THAN_THIRDS * pulse.third)
    filled = pulse.half >= _ALL_HALF_WAY and pulse.third <= _FEW_THIRDS * pulse.half
    if (pulse.bpm < SLOW_BPM and in_two and begins) or (pulse.bpm < _NOT_TWICE_BPM and filled):
        return 2.0
    if pulse.likelihood(2.0) >= _TWICE_HEARD:
        return 2.0
    clear, half = max(pulse.bar, pulse.bar_of_three), pulse.likelihood(0.5)
    # a loud and a soft beat in turn are no doubt in a bar of four that is heard: the third is none to begin one on
    in_turn = pulse.alternate <= _WEAKER and pulse.weaker >= _MAY_BE_TWO
    unclear = pulse.bpm >= QUICK_BPM and clear < _UNCLEAR and half >= _SOME_HALF
    quick_three = pulse.bpm >= _VERY_QUICK_BPM and pulse.bar_of_three >= _SURELY_THREE
    if half >= _HALF_HEARD or in_turn or unclear or quick_three:
        return 0.5
    more = pulse.likelihood(1.5)
    thirds = pulse.third >= max(_THIRDS, _BESIDE_HALF * pulse.half)
    if (
        more >= _MORE_HEARD
        or (more >= _SOME_HEARD and clear < _VERY_UNCLEAR)
        or (pulse.bpm < _NOT_THREE_BPM and thirds)
    ):
        return 1.5
    if clear < _UNCLEAR and pulse.likelihood(2 / 3) >= _LESS_HEARD:
        return 2 / 3
    return None


def _halves(pulse: Pulse) -> bool:
    return pulse.half >= max(_HALF_WAY, _BESIDE_THIRDS * pulse.third)


def _around(curve: Curve, frames: Ints, reach: int) -> Floats:
    """Return the maximum of a curve around each frame."""
    nearby = np.clip(frames[:, None] + np.arange(-reach, reach + 1), 0, len(curve) - 1)
    return np.asarray(curve[nearby].max(axis=1), np.float64)


def _settle(ones: Floats, meter: int) -> tuple[float, float]:
    """Return the mean bar probability on the likeliest downbeat, and two beats after it."""
    over = _SETTLED_OVER[meter]
    stretches = ones[: len(ones) // over * over].reshape(-1, over // meter, meter).mean(axis=1)
    best = stretches.argmax(axis=1)
    rows = np.arange(len(stretches))
    if not len(stretches):
        return 0.0, 0.0
    return float(stretches[rows, best].mean()), float(stretches[rows, (best + 2) % meter].mean())


def _begun(times: Floats, fine: Curve, parts: tuple[float, ...]) -> float:
    """Return the mean onset strength at fractions of the beats."""
    steps = np.diff(times)
    moments = np.concatenate([times[:-1] + part * steps for part in parts])
    return float(_around(fine, np.round(moments * FINE_HZ).astype(np.intp), int(_NEAR * FINE_HZ) + 1).mean())
