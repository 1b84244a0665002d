"""Key repeats: trains of presses from a held key, told from taps."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from tempo_coach.times import ascending

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

#: Keyboards repeat a held key 10 to 50 times a second; one finger taps at most some 8 times a second (common practice).
FASTEST_TAP = 0.11
#: So many short steps in a row are a train and no accident.
TRAIN_STEPS = 3
#: Repeats are even: a train's steps differ by less than this from their median (s), or by half of it.
EVEN = 0.02
#: A held key waits this long (s) before its first repeat.
FIRST_REPEAT = (0.15, 1.1)


def find_repeats(times: ArrayLike) -> NDArray[np.bool_]:
    """Return which presses of one key are repeats generated while it was held.

    Parameters
    ----------
    times : array_like, shape (n,)
        Seconds at which one key was pressed, ascending.

    Returns
    -------
    numpy.ndarray of bool, shape (n,)
        The press that began a train is no repeat; everything in the train is.

    Examples
    --------
    >>> find_repeats([0.0, 0.5, 0.533, 0.566, 0.6, 1.4]).tolist()
    [False, True, True, True, True, False]
    """
    stamps = ascending(times, name="taps")
    repeats = np.zeros(stamps.size, dtype=np.bool_)
    short = np.flatnonzero(np.diff(stamps) < FASTEST_TAP)
    if short.size < TRAIN_STEPS:
        return repeats
    for run in np.split(short, np.flatnonzero(np.diff(short) > 1) + 1):
        steps = stamps[run + 1] - stamps[run]
        median = float(np.median(steps))
        if run.size < TRAIN_STEPS or np.median(np.abs(steps - median)) > max(EVEN, median / 2):
            continue
        first = int(run[0])
        held_before = first > 0 and FIRST_REPEAT[0] <= stamps[first] - stamps[first - 1] <= FIRST_REPEAT[1]
        repeats[first + (0 if held_before else 1) : int(run[-1]) + 2] = True
    return repeats
