"""Beats placed finer than a frame, on the onset that they were found at."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from tempo_coach.music.features import FINE_HZ

if TYPE_CHECKING:
    from tempo_coach.music.features import Curve
    from tempo_coach.times import Floats

#: How far from the decoded frame the onset is looked for (s).
REACH = 0.045


def place_beats(seconds: Floats, fine: Curve) -> tuple[Floats, Floats]:
    """Return the beats' times, moved to the clearest onset nearby, and how clear each onset is (0 to 1).

    Parameters
    ----------
    seconds : array, shape (n,)
        Beats as decoded.
    fine : array, shape (m,), float32
        How much begins, ``FINE_HZ`` times a second.

    Returns
    -------
    seconds, clarity : array, shape (n,)
    """
    reach = int(REACH * FINE_HZ)
    around = np.arange(-reach, reach + 1)
    padded = np.pad(fine, reach + 1)
    centres = np.round(seconds * FINE_HZ).astype(np.intp) + reach + 1
    windows = padded[centres[:, None] + around]
    weighted = windows * np.exp(-0.5 * (around / FINE_HZ / 0.03) ** 2)
    best = weighted.argmax(axis=1)
    at = centres + around[best]
    before, here, after = padded[at - 1], padded[at], padded[at + 1]
    bend = before - 2 * here + after
    shift = np.where(bend < 0, 0.5 * (before - after) / np.where(bend < 0, bend, 1), 0)
    placed = (at - reach - 1 + np.clip(shift, -0.5, 0.5)) / FINE_HZ
    usual = float(fine.mean())
    clarity = here / (here + 4 * usual) if usual > 0 else np.zeros(len(seconds))
    return np.where(here > usual, placed, seconds), clarity
