"""Evidence for beats by frame: the network where its weights are there, else onset strength."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from tempo_coach.errors import CoachError
from tempo_coach.music.beats import network
from tempo_coach.music.beats.bar_search import Numbered, find_eights
from tempo_coach.music.beats.downbeats import find_bars, one_strength, weigh_harmony
from tempo_coach.music.beats.features import FINE_HZ, FRAME_HZ, beat_strength, hear, hear_fine
from tempo_coach.music.beats.scoring import Scoring
from tempo_coach.music.beats.tempo import INTERVALS, LOOK_EVERY, look_for_tempo
from tempo_coach.share_done import part_of

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    from tempo_coach.music.beats.features import Curve, Features, Matrix
    from tempo_coach.music.files.sound import Sound
    from tempo_coach.times import Floats

#: Window around the decoded frame in which its onset is searched (s, either side).
SEARCH_WITHIN = 0.045


def place_beats(seconds: Floats, fine: Curve) -> tuple[Floats, Floats]:
    """Snap beats to the clearest onset nearby, with sub-frame refinement by a parabola.

    Parameters
    ----------
    seconds : array, shape (n,)
        Beats as decoded.
    fine : array, shape (m,), float32
        Onset strength at ``FINE_HZ``.

    Returns
    -------
    seconds, clarity : array, shape (n,)
        Clarity is 0 to 1.
    """
    half = int(SEARCH_WITHIN * FINE_HZ)
    around = np.arange(-half, half + 1)
    padded = np.pad(fine, half + 1)
    centres = np.round(seconds * FINE_HZ).astype(np.intp) + half + 1
    windows = padded[centres[:, None] + around]
    weighted = windows * np.exp(-0.5 * (around / FINE_HZ / 0.03) ** 2)
    best = weighted.argmax(axis=1)
    at = centres + around[best]
    before, here, after = padded[at - 1], padded[at], padded[at + 1]
    bend = before - 2 * here + after
    shift = np.where(bend < 0, 0.5 * (before - after) / np.where(bend < 0, bend, 1), 0)
    placed = (at - half - 1 + np.clip(shift, -0.5, 0.5)) / FINE_HZ
    mean = float(fine.mean())
    clarity = here / (here + 4 * mean) if mean > 0 else np.zeros(len(seconds))
    return np.where(here > mean, placed, seconds), clarity


#: Tuned on the development set and on developing pieces of further kinds, for the square root of the beat activation.
NETWORK_SCORING = Scoring(
    beat=1.0,
    tempo=0.06,
    prior=0.25,
    threshold=0.25,
    change=5.0,
    jump=2.0,
    rest=0.15,
    prior_bpm=116.0,
    octaves=0.7,
    sure=0.3,
    edge=0.7,
)
#: Clarity between which the beat's time passes over from the network's to the onset's. Clicks are at 0.94; music of
#: the development set stays below 0.91, and there the network is nearer.
_SHARP = (0.91, 0.93)
#: Floor of a tempo's probability.
_FAINT = 1e-3


@dataclass(frozen=True, eq=False)
class Evidence:
    """Evidence for beats, with the methods that place and number decoded beats.

    Parameters
    ----------
    beat : (n,) float32
        Beat activation or onset strength by frame, 0 to 1.
    tempo : (looks, intervals) float32
        Tempogram.
    scoring : Scoring
        Weights and penalties of the decoder for this kind of evidence.
    fine : (m,) float32
        Onset strength at ``FINE_HZ``.
    heard : Activations or None
        None without the network.
    features : Features or None
        What bars are told by without the network; None with it.
    """

    beat: Curve
    tempo: Matrix
    scoring: Scoring
    fine: Curve
    heard: network.Activations | None
    features: Features | None = None

    def place(self, frames: np.ndarray) -> Floats:
        """Return the times of decoded beats, refined below a frame.

        Parameters
        ----------
        frames : array of int, shape (n,)

        Returns
        -------
        array, shape (n,)
            Seconds of the music.
        """
        if self.heard is None:
            return place_beats(frames / FRAME_HZ, self.fine)[0]
        around = np.arange(-2, 3)
        weight = np.pad(self.heard.beat, 2)[frames[:, None] + around + 2].astype(np.float64)
        heard = (frames + (weight @ around) / np.maximum(weight.sum(axis=1), 1e-6)) / FRAME_HZ
        placed, clarity = place_beats(heard, self.fine)
        sharp = np.clip((clarity - _SHARP[0]) / (_SHARP[1] - _SHARP[0]), 0, 1) * (np.abs(placed - heard) < 0.02)
        return np.asarray(heard + sharp * (placed - heard), dtype=np.float64)

    def number(
        self, times: Floats, rested: NDArray[np.bool_] | None = None, *, meter: int | None, one: int | None
    ) -> Numbered:
        """Return each beat's position in its bar, and the eights where the network detects them.

        Parameters
        ----------
        times : array, shape (n,)
            Beats in seconds.
        rested : array of bool, shape (n,), or None
            True where a pause comes before the beat.
        meter, one : int or None
            Beats a bar, and the index of a beat that begins one, where they are known.

        Returns
        -------
        Numbered
        """
        if self.features is not None:
            return Numbered(find_bars(one_strength(times, self.features), meter=meter, one=one))
        if self.heard is None:
            raise ValueError("expected what the network hears, or what bars are told by without it")
        around = np.round(times * FRAME_HZ).astype(np.intp)[:, None] + np.arange(-2, 3)
        around = np.clip(around, 0, len(self.heard.beat) - 1)
        beat, bar, eight = (
            curve[around].max(axis=1).astype(np.float64)
            for curve in (self.heard.beat, self.heard.downbeat, self.heard.eight)
        )
        ones = bar / np.maximum(beat, 1e-3)
        if self.heard.tones is not None:
            ones = weigh_harmony(ones, times, self.heard.tones, FRAME_HZ / network.TONE_EVERY)
        rested = np.zeros(len(times), bool) if rested is None else rested
        return find_eights(ones, eight / np.maximum(bar, 0.02), rested, meter=meter, one=one)


def gather_evidence(
    sound: Sound,
    *,
    use_network: bool = True,
    progress: Callable[[float], None] | None = None,
    warn: Callable[[CoachError], None] | None = None,
) -> Evidence:
    """Gather the evidence for beats in a sound.

    Parameters
    ----------
    sound : Sound
    use_network : bool
        Whether to ask the network; without it, or where its weights are missing or damaged, onsets decide.
    progress : callable or None
        Is given the part that is done, 0 to 1.
    warn : callable or None
        Is given the error where the network was asked for and cannot be had.

    Returns
    -------
    Evidence
    """
    fine = hear_fine(sound, progress=part_of(progress, 0.0, _FINE_PART))
    if use_network and not _is_clicks(fine):
        try:
            heard = network.hear(sound.samples, sound.rate_hz, progress=part_of(progress, _FINE_PART, 1.0))
        except CoachError as problem:
            if warn is not None:
                warn(problem)
        else:
            return Evidence(np.sqrt(heard.beat), _explain_tempo(heard.tempo), NETWORK_SCORING, fine, heard)
    features = hear(sound, progress=part_of(progress, _FINE_PART, 1.0))
    strength = beat_strength(features)
    return Evidence(strength, look_for_tempo(strength), Scoring(), fine, None, features)


#: Part of the work that the fine curve is.
_FINE_PART = 0.2


def _is_clicks(fine: Curve) -> bool:
    """Return True for a click track, silent between its onsets, on which the network adds nothing."""
    return float(np.percentile(fine, 80)) < _CLICKS_BELOW * float(fine.mean())


#: Largest ratio of the 80th percentile of the onset strength to its mean: 0 for clicks, 0.69 or more for music of the
#: development set.
_CLICKS_BELOW = 0.05


#: Looks at the tempo that are summed at once.
_SUMMED = 100


def _explain_tempo(tempo: Matrix) -> Matrix:
    """Return the log probability of each interval around each look, relative to the likeliest."""
    # the stretches around the looks lie side by side: summed some at a time, a long piece needs no second copy
    centre = np.arange(len(tempo) // LOOK_EVERY + 1) * LOOK_EVERY
    edges = np.append(np.clip(centre - LOOK_EVERY // 2, 0, len(tempo) - 1), len(tempo))
    mean = np.empty((len(centre), tempo.shape[1]))
    for look in range(0, len(centre), _SUMMED):
        some = edges[look : look + _SUMMED + 1]
        sums = np.add.reduceat(tempo[some[0] : some[-1]], some[:-1] - some[0], axis=0, dtype=np.float64)
        mean[look : look + _SUMMED] = sums / np.diff(some)[:, None]
    place = np.log(60 * FRAME_HZ / INTERVALS / network.TEMPI[0]) / np.log(network.TEMPI[1] / network.TEMPI[0])
    below = np.clip(place.astype(np.intp), 0, len(network.TEMPI) - 2)
    part = np.clip(place - below, 0, 1)
    score = np.log(mean[:, below] * (1 - part) + mean[:, below + 1] * part + _FAINT)
    return np.asarray(score - score.max(axis=1, keepdims=True), np.float32)
