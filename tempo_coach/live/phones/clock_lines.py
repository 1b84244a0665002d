"""Lines between a phone's clock and ours that messages both ways leave open, and the likeliest of them; pure.

A message up cannot arrive before it was sent, and one down neither: each way bounds the offset between the clocks from
one side, and nothing else is assumed of delays where a bound is stated. Of the lines between both, each way's fastest
messages make one likelier than another: with delays that fall off exponentially, that is the one with the most room
around it in the middle of the messages (Moon, Skelly and Towsley 1999 for one way; from memory).
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Sequence

    from tempo_coach.times import Floats

#: Largest difference of two clocks' rates, and its usual size: quartzes of phones and computers are within some 40 ppm
#: each (common practice of makers' data sheets, from memory).
FASTEST, USUAL = 80e-6, 30e-6
#: Rates that are looked at: half a step is 30 µs within a window.
RATES = np.linspace(-FASTEST, FASTEST, 161)
#: Seconds by which a rate that changes with temperature, or lies between two of these, leaves its line in a window.
WANDER = 1e-4
#: Seconds around a stamp whose messages count.
WINDOW = 60.0
#: Seconds of messages that are kept together.
BLOCK = 5.0
#: Share of what exponential delays would tell about the rate that is believed: the fastest of real ones are not so
#: near the shortest possible. Chosen on simulated networks as in the tests, and judged on no real one; no bound that is
#: stated rests on it.
BELIEVED = 0.3
#: Shortest usual delay above the fastest, seconds.
_SHORTEST = 1e-4


class Fastest(NamedTuple):
    """Messages one way, of which those stand here that a line may touch.

    Parameters
    ----------
    sign : int
        1 where they bound the offset from above, -1 from below.
    stamps, offsets : numpy.ndarray, shape (n,)
        The phone's clock, and the offset that each bounds.
    number : int
        How many messages there were.
    middle : float
        Mean of their stamps.
    excess : float
        Usual delay above the fastest, in seconds.
    """

    sign: int
    stamps: Floats
    offsets: Floats
    number: int
    middle: float
    excess: float

    def bounds_at(self, at: float) -> Floats:
        """Return the bound of the offset at a stamp for each of the rates, shape (161,)."""
        bounds = self.offsets - RATES[:, None] * (self.stamps - at)
        return np.asarray(bounds.min(axis=1) if self.sign > 0 else bounds.max(axis=1))

    def moved(self, by: float) -> Fastest:
        """Return them on the axis of a clock that shows so much less."""
        return self._replace(stamps=self.stamps + by, offsets=self.offsets - by, middle=self.middle + by)


def join(parts: Sequence[Fastest]) -> Fastest | None:
    """Return several as one; None without any."""
    if len(parts) < 2:
        return parts[0] if parts else None
    numbers = np.array([each.number for each in parts])
    return Fastest(
        parts[0].sign,
        np.concatenate([each.stamps for each in parts]),
        np.concatenate([each.offsets for each in parts]),
        int(numbers.sum()),
        float(np.average([each.middle for each in parts], weights=numbers)),
        float(np.median([each.excess for each in parts])),
    )


class Direction:
    """Messages one way, by when they were sent or came on the phone's clock."""

    def __init__(self, sign: int) -> None:
        self.sign = sign
        self.last = -np.inf
        self._blocks: dict[int, list[tuple[float, float]]] = {}
        self._fastest: dict[int, Fastest] = {}

    def add(self, stamp: float, offset: float) -> None:
        """Add a message and the offset that it bounds."""
        self._blocks.setdefault(int(stamp // BLOCK), []).append((stamp, offset))
        self.last = max(self.last, stamp)

    def near(self, centre: float, *, ever: bool = True) -> list[Fastest]:
        """Return the messages within a window; without any, all of them where that is wanted."""
        keys = [key for key in self._blocks if abs((key + 0.5) * BLOCK - centre) <= WINDOW]
        return [self._look(key) for key in keys or (self._blocks if ever else ())]

    def _look(self, key: int) -> Fastest:
        points, known = self._blocks[key], self._fastest.get(key)
        if known is None or known.number != len(points):
            stamps, offsets = np.array(points).T
            bounds = self.sign * (offsets - RATES[:, None] * (stamps - stamps.mean()))
            kept = np.unique(bounds.argmin(axis=1))
            excess = float(np.median(self.sign * offsets) - (self.sign * offsets).min())
            known = Fastest(self.sign, stamps[kept], offsets[kept], len(points), float(stamps.mean()), excess)
            self._fastest[key] = known
        return known


def agree(up: Fastest | None, down: Fastest | None) -> bool:
    """Return whether a line fits the messages of both ways."""
    return (
        up is None or down is None or bool((up.bounds_at(up.middle) - down.bounds_at(up.middle) >= -2 * WANDER).any())
    )


def bound(up: Fastest, down: Fastest, stamps: Floats) -> tuple[Floats, Floats]:
    """Return the lowest and the highest offset that any possible line has at each stamp."""
    centre = float(stamps.mean())
    highest, lowest = up.bounds_at(centre) + WANDER, down.bounds_at(centre) - WANDER
    room = highest - lowest
    open_ = room >= 0
    if not open_.any():
        # the rate changed within the window: the least contradicted line, and the contradiction on both sides of it
        best = int(np.argmax(room))
        line = (highest[best] + lowest[best]) / 2 + RATES[best] * (stamps - centre)
        return line + room[best] - WANDER, line - room[best] + WANDER
    run = RATES[open_] * (stamps - centre)[:, None]
    return (lowest[open_] + run).min(axis=1), (highest[open_] + run).max(axis=1)


def find_likeliest(up: Fastest, down: Fastest, stamps: Floats) -> Floats:
    """Return the likeliest offset at each stamp: the mean of the lines in the middle of their room, by rate."""
    centre = float(stamps.mean())
    told = -((RATES / USUAL) ** 2) / 2
    for way in (up, down):
        told += BELIEVED * way.sign * way.number * way.bounds_at(way.middle) / max(way.excess / np.log(2), _SHORTEST)
    weights = np.exp(told - told.max())
    weights /= weights.sum()
    middle = weights @ (up.bounds_at(centre) + down.bounds_at(centre)) / 2
    return np.asarray(middle + (weights @ RATES) * (stamps - centre))
