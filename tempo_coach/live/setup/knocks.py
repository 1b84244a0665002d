"""Delays of phones, from knocks that the microphone records and each phone feels, or as touches: pure.

What is measured is the whole way of a phone: of its panel or sensor, and the part of its network's delay that is always
longer one way, which no exchange of messages shows. Loudspeaker, microphone and the computer's own delays are not in
it: the recording lies on the take clock by chirps that were played before.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from tempo_coach.errors import CoachError
from tempo_coach.live.setup.delays import find_stroke_delay
from tempo_coach.observe.take.clock import MAD_TO_SD

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    from tempo_coach.live.inputs.source import Collected
    from tempo_coach.live.setup.delays import Delay
    from tempo_coach.times import Floats

#: Least change of the acceleration from one reading to the next in a knock, in m/s² and in robust SDs.
LEAST, CLEAR = 1.5, 8.0
#: Seconds within which what follows is the same knock.
SAME = 0.3
#: Half of the widest interval of a delay that is worth taking out, in seconds: phones themselves differ by as much.
SUREST = 0.02


def find_knocks(readings: Sequence[Sequence[float]]) -> Floats:
    """Return the stamps of the knocks that a phone felt.

    Parameters
    ----------
    readings : sequence of (stamp, three accelerations, ...)
        Ascending.

    Returns
    -------
    numpy.ndarray, shape (n,)
        Half a step before the first reading that shows each: any age of it is as likely.

    Examples
    --------
    >>> readings = [[k / 60, 0, 0, 9.8 + 5 * (k == 30)] for k in range(60)]
    >>> find_knocks(readings).round(3).tolist()
    [0.492]
    """
    if len(readings) < 3:
        return np.array([])
    table = np.asarray(readings, dtype=np.float64)
    change = np.linalg.norm(np.diff(table[:, 1:4], axis=0), axis=1)
    scatter = MAD_TO_SD * float(np.median(np.abs(change - np.median(change))))
    shown = table[1:, 0][change > max(LEAST, float(np.median(change)) + CLEAR * scatter)]
    firsts = shown[np.diff(shown, prepend=-np.inf) > SAME]
    return np.asarray(firsts - float(np.median(np.diff(table[:, 0]))) / 2)


def measure_phone_delays(
    found: Mapping[str, Collected],
    heard: np.ndarray,
    rate_hz: int,
    *,
    take_time: Callable[[float], float],
    quiet: float,
) -> dict[str, Delay]:
    """Return the delay of each phone by its name.

    Parameters
    ----------
    found : mapping of name to Collected
        What each phone noticed, no delay taken out.
    heard : numpy.ndarray, shape (n,)
        The recording on the take clock.
    rate_hz : int
    take_time : callable
        From stamps to the take clock.
    quiet : float
        Take time from which on nothing is played.

    Raises
    ------
    CoachError
        If too few knocks of a phone can be heard, or they contradict each other.
    """
    delays = {}
    for name, each in found.items():
        stamps = [stamp for stamp, _ in each.onsets]
        for rows in each.readings.values():
            stamps += find_knocks(rows).tolist()
        times = np.sort([time for time in map(take_time, stamps) if time > quiet])
        delay = find_stroke_delay(times, heard, rate_hz, what=name)
        half = (delay.high - delay.low) / 2
        if half > SUREST:
            raise CoachError("knocks.contradict", where=name, n=delay.n, half_ms=1000 * half, most_ms=1000 * SUREST)
        delays[name] = delay
    return delays
