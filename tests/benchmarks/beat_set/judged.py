"""What found beats are worth beside the true ones; mir_eval's measures with its defaults, and a few of our own."""

from __future__ import annotations

from typing import TYPE_CHECKING

import mir_eval
import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

#: Found and true beats closer than this (s) are one beat for the errors in time.
PAIRED = 0.1


def judge_beats(found: NDArray[np.float64], true: NDArray[np.float64], pauses: NDArray[np.float64]) -> dict[str, float]:
    """Return the measures of one piece by name.

    ``F``, ``CMLt``, ``AMLt`` as mir_eval defines them after leaving out the first 5 s; ``tempo 4 %`` and
    ``tempo 8 %`` whether the median tempo is that near (0 or 1); ``error`` and ``bias`` in ms, the median of the
    absolute and of the signed errors of paired beats; ``invented`` beats per pause, nan without one.
    """
    late, due = mir_eval.beat.trim_beats(found), mir_eval.beat.trim_beats(true)
    _, cmlt, _, amlt = mir_eval.beat.continuity(due, late)
    inside = sum(int(((found > start + PAIRED) & (found < end - PAIRED)).sum()) for start, end in pauses)
    off = found[:, None] - true
    nearest = off[np.arange(len(found)), np.abs(off).argmin(axis=1)] if len(found) else np.zeros(0)
    paired = nearest[np.abs(nearest) < PAIRED]
    ratio = np.median(np.diff(true)) / np.median(np.diff(found)) if len(found) > 1 else 0.0
    return {
        "F": float(mir_eval.beat.f_measure(due, late)),
        "CMLt": float(cmlt),
        "AMLt": float(amlt),
        "tempo 4 %": float(abs(ratio - 1) <= 0.04),
        "tempo 8 %": float(abs(ratio - 1) <= 0.08),
        "error": 1000 * float(np.median(np.abs(paired))) if len(paired) else np.nan,
        "bias": 1000 * float(np.median(paired)) if len(paired) else np.nan,
        "invented": inside / len(pauses) if len(pauses) else np.nan,
    }
