"""Beats from tapping along once: the taps steer, and clear onsets of the music put right what the hand got wrong.

A person taps a little ahead of the beat and a few hundredths of a second unevenly. Each beat is placed where three
things agree best, in the sense of least squares: its tap with the person's lead taken out, an even tempo (its second
differences small), and an onset of the music where one is clear. Soft music has no clear onsets; there the first two
decide.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from tempo_coach.errors import CoachError
from tempo_coach.music.features import FINE_HZ
from tempo_coach.music.strength import moving_mean

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

    from tempo_coach.music.features import Curve
    from tempo_coach.times import Floats

#: Taps lead the beat by several tens of milliseconds (Aschersleben 2002); where the music cannot tell, by this (s).
USUAL_LEAD, LEAD_SPREAD = 0.025, 0.015
#: SD of a tap about its beat (s): 20 to 40 ms in the literature on tapping (Repp 2005, from memory).
TAP_SPREAD = 0.035
#: SD of an onset about its beat (s); the development set decided.
ONSET_SPREAD = 0.006
#: SD of an interval's change from the one before, as a part of it, from even to very free playing. The first is
#: taken that leaves the taps no more uneven about the beats than a hand is.
CHANGE_SPREADS = (0.02, 0.03, 0.045, 0.07)
#: How clear an onset must be to count at all: its height over what is usual around it.
CLEAR_FROM = 2.5
#: A gap of fewer usual intervals than this lacks one tap; a longer one is a pause.
PAUSE_FROM = 2.6
#: An interval of fewer usual ones than this is one beat tapped twice.
_DOUBLE = 0.45
#: How far from a tap an onset is considered (s).
_REACH = 0.12


class Followed(NamedTuple):
    """Beats by taps.

    ``times`` (n,) s; ``tapped`` (n,) whether there was a tap; ``sure`` (n,) 0 to 1, how far an onset agrees;
    ``after_pause`` (n,) whether a pause comes before; ``lead`` (s) taken out.
    """

    times: Floats
    tapped: np.ndarray
    sure: Floats
    after_pause: np.ndarray
    lead: float


def follow_taps(taps: ArrayLike, fine: Curve, *, duration: float) -> Followed:
    """Return the beats that a person meant who tapped along once.

    Parameters
    ----------
    taps : array_like, shape (m,)
        Seconds of the music, in any order.
    fine : (k,) float32
        How much begins, at ``FINE_HZ``.
    duration : float
        Length of the music in seconds.

    Returns
    -------
    Followed

    Raises
    ------
    CoachError
        If fewer than four taps lie inside the music.
    """
    given = np.sort(np.asarray(taps, dtype=np.float64).ravel())
    if not np.isfinite(given).all():
        raise CoachError("some taps are not numbers", where="taps")
    given = given[(given >= 0) & (given <= duration)]
    single = _drop_doubles(given)
    if len(single) < 4:
        raise CoachError(
            f"expected at least 4 taps inside the music, got {len(single)}", where="taps", hint="tap along once more"
        )
    hoped, tapped, after_pause = _fill_gaps(single)
    runs = np.split(np.arange(len(hoped)), np.flatnonzero(after_pause)[np.flatnonzero(after_pause) > 0])
    onsets = _Onsets(fine)
    change, even = _even_out(hoped, tapped, runs)
    lead = _find_lead(even, onsets)
    placed = [_settle(hoped[run] + lead, tapped[run], even[run] + lead, onsets, change) for run in runs]
    times = np.concatenate([each[0] for each in placed])
    sure = np.concatenate([each[1] for each in placed])
    return Followed(np.clip(times, 0, duration), tapped, sure, after_pause, lead)


def usual_intervals(times: Floats) -> Floats:
    """Return the median of the nine intervals around each interval.

    Parameters
    ----------
    times : array, shape (n,)
        Seconds, ascending.

    Returns
    -------
    array, shape (n - 1,)
        Seconds.
    """
    steps = np.diff(times)
    return np.array([np.median(steps[max(0, k - 4) : k + 5]) for k in range(len(steps))])


def _drop_doubles(times: Floats) -> Floats:
    """Return the taps without second taps on one beat: of two, the one that fits its neighbours less goes."""
    kept = list(times)
    while len(kept) > 2:
        array = np.array(kept)
        ratio = np.diff(array) / np.maximum(usual_intervals(array), 1e-9)
        worst = int(ratio.argmin())
        if ratio[worst] >= _DOUBLE:
            break
        usual = float(np.median(np.diff(array)))
        before = kept[worst - 1] if worst > 0 else kept[worst] - usual
        after = kept[worst + 2] if worst + 2 < len(kept) else kept[worst + 1] + usual
        middle = (before + after) / 2
        del kept[worst if abs(kept[worst] - middle) > abs(kept[worst + 1] - middle) else worst + 1]
    return np.array(kept)


def _fill_gaps(times: Floats) -> tuple[Floats, np.ndarray, np.ndarray]:
    """Return times with a missing tap put between its neighbours, which were tapped, and which follow a pause."""
    usual = usual_intervals(times)
    filled, tapped, after_pause = [float(times[0])], [True], [True]
    for k, step in enumerate(np.diff(times)):
        ratio = step / usual[k]
        if 1.55 < ratio < PAUSE_FROM:
            filled.append(float(times[k] + step / 2))
            tapped.append(False)
            after_pause.append(False)
        filled.append(float(times[k + 1]))
        tapped.append(True)
        after_pause.append(bool(ratio >= PAUSE_FROM))
    return np.array(filled), np.array(tapped), np.array(after_pause)


def _even_out(hoped: Floats, tapped: np.ndarray, runs: list[np.ndarray]) -> tuple[float, Floats]:
    """Return how freely the music is played, and the taps evened out accordingly, without the music."""
    trust = np.where(tapped, TAP_SPREAD**-2, 0.0)
    nothing = np.zeros(len(hoped))
    for change in CHANGE_SPREADS:
        even = np.concatenate([_solve(hoped[run], trust[run], hoped[run], nothing[run], change) for run in runs])
        if np.sqrt(np.mean((even - hoped)[tapped] ** 2)) < TAP_SPREAD:
            break
    return change, even


def _solve(hoped: Floats, trust: Floats, onset: Floats, pull: Floats, change: float) -> Floats:
    """Return the times of least weighted squares from taps, onsets and an even tempo."""
    n = len(hoped)
    if n < 3:
        weight = trust + pull
        return np.where(weight > 0, (trust * hoped + pull * onset) / np.where(weight > 0, weight, 1), hoped)
    period = float(np.median(np.diff(hoped)))
    bends = np.diff(np.eye(n), 2, axis=0) / (change * period)
    left = bends.T @ bends + np.diag(trust + pull)
    return np.asarray(np.linalg.solve(left, trust * hoped + pull * onset), dtype=np.float64)


class _Onsets:
    """Moments at which something clearly begins, and how clearly."""

    def __init__(self, fine: Curve) -> None:
        smooth = fine.astype(np.float64)
        smooth[1:-1] = (smooth[:-2] + 2 * smooth[1:-1] + smooth[2:]) / 4
        usual = moving_mean(fine, int(4 * FINE_HZ)) + 0.3 * float(fine.mean()) + 1e-9
        ratio = smooth / usual
        peaks = np.flatnonzero((smooth[1:-1] > smooth[:-2]) & (smooth[1:-1] >= smooth[2:]) & (ratio[1:-1] > 1)) + 1
        before, here, after = smooth[peaks - 1], smooth[peaks], smooth[peaks + 1]
        self.times = (peaks + 0.5 * (before - after) / (before - 2 * here + after)) / FINE_HZ
        self.clear = ratio[peaks]

    def near(self, moment: float) -> tuple[Floats, Floats]:
        """Return times and clearness of the onsets within reach of a moment."""
        first, last = np.searchsorted(self.times, [moment - _REACH, moment + _REACH])
        return self.times[first:last], self.clear[first:last]


def _find_lead(even: Floats, onsets: _Onsets) -> float:
    """Return how far the taps lead the music: where clear onsets gather, held to the usual lead."""
    leads = np.arange(-0.05, 0.121, 0.0025)
    score = -0.5 * ((leads - USUAL_LEAD) / LEAD_SPREAD) ** 2
    for moment in even:
        times, clear = onsets.near(moment + USUAL_LEAD)
        gathered = np.zeros(len(leads))
        for time, height in zip(times, clear, strict=True):
            gathered += _weight(height) * np.exp(-0.5 * ((moment + leads - time) / 0.02) ** 2)
        score += np.log1p(gathered) / 4
    return float(leads[score.argmax()])


def _weight(clear: float | Floats) -> float | Floats:
    """Return how much an onset counts, from how far it rises above the usual: little below 3, much above 6."""
    return np.maximum(clear - CLEAR_FROM, 0.0) ** 2 / 4


def _settle(hoped: Floats, tapped: np.ndarray, times: Floats, onsets: _Onsets, change: float) -> tuple[Floats, Floats]:
    """Return times, drawn step by step to onsets where taps and tempo expect them, and how sure each is."""
    trust = np.where(tapped, TAP_SPREAD**-2, 0.0)
    sure = np.zeros(len(times))
    for spread in (0.035, 0.03, 0.025, 0.02, 0.016, 0.014, 0.012):
        drawn = times.copy()
        for k, moment in enumerate(times):
            near, clear = onsets.near(moment)
            likely = _weight(clear) * np.exp(-0.5 * ((near - moment) / spread) ** 2)
            total = float(np.sum(likely))
            sure[k] = total / (1 + total)
            if total > 0:
                drawn[k] = float(np.sum(likely * near) / total)
        times = _solve(hoped, trust, drawn, sure * ONSET_SPREAD**-2, change)
    return times, sure
