"""The cycles of a film that are worth showing: one that broke, and her median one beside it."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from tempo_coach.errors import CoachError
from tempo_coach.observe.trace.selection import pick
from tempo_coach.observe.trace.tracked_body import observe
from tempo_coach.observe.trace.uneven import find_uneven

if TYPE_CHECKING:
    from tempo_coach.observe.film.film_trace import FilmTrace
    from tempo_coach.times import Floats

#: Fewest whole cycles among which one is the median.
FEWEST = 3


class ShownCycle(NamedTuple):
    """A cycle of a film: its number from 1, and where it begins and ends in seconds of the trace."""

    number: int
    start: float
    end: float

    @property
    def lasts(self) -> float:
        """Length in seconds."""
        return self.end - self.start


def choose_cycles(
    filmed: FilmTrace, *, number: int | None = None, begins: float | None = None
) -> tuple[ShownCycle, ShownCycle]:
    """Return the requested cycle, and the one of median length.

    Parameters
    ----------
    filmed : FilmTrace
        Of its first marker.
    number : int or None
        Which cycle, from 1, as ``trace`` numbers them; None for the one that broke, or else the one furthest off.
    begins : float or None
        Where it begins in seconds of the trace, instead of a number: the nearest one is taken.

    Raises
    ------
    CoachError
        If nothing repeats, there are fewer than three whole cycles, or none of that number.
    """
    try:
        body = observe(pick(filmed.trace, point=filmed.names[0]))
    except CoachError as error:
        raise error.at(error.where or filmed.film.path) from error
    time, whole = body.cycles.time, np.flatnonzero(body.cycles.within)
    if whole.size < FEWEST:
        raise CoachError("clip.few_cycles", where=filmed.film.path, found=int(whole.size), least=FEWEST)
    lasts = np.diff(time)
    if begins is not None:
        wanted = int(whole[np.argmin(np.abs(time[whole] - begins))])
    elif number is None:
        noise = filmed.timing_sd.get(filmed.names[0], 0.0)
        flagged = [flag.first for flag in find_uneven(body.circles, noise=noise) if flag.first in whole]
        wanted = _furthest(lasts, np.array(flagged or whole))
    elif number - 1 in whole:
        wanted = number - 1
    else:
        raise CoachError(
            "clip.no_cycle", where="--cycle", found=number, first=int(whole[0]) + 1, last=int(whole[-1]) + 1
        )
    others = whole[whole != wanted]
    usual = int(others[np.argmin(np.abs(lasts[others] - np.median(lasts[whole])))])
    return tuple(ShownCycle(k + 1, float(time[k]), float(time[k + 1])) for k in (wanted, usual))  # type: ignore[return-value]  # two


def _furthest(lasts: Floats, among: np.ndarray[tuple[int], np.dtype[np.int_]]) -> int:
    return int(among[np.argmax(np.abs(lasts[among] - np.median(lasts)))])
