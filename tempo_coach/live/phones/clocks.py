"""Offset and rate of a phone's clock against ours, from messages both ways; pure.

A message up cannot arrive before it was sent, and one down neither: each way bounds the offset between the clocks from
one side, and nothing else is assumed of delays. The fastest ways up and down, of different messages, are two envelopes.
Every line between them with a rate that a quartz can have may be the true one; the middle of those lines is told, and
half of what they leave open, which no error exceeds. A delay that is always longer one way is only bounded.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

    from tempo_coach.times import Floats

#: Largest difference of two clocks' rates: quartzes of phones and computers are within some 40 ppm each (common
#: practice of makers' data sheets, from memory).
FASTEST = 80e-6
#: Seconds by which a rate that changes with temperature leaves its line within a window.
WANDER = 1e-4
#: Seconds around a stamp whose messages bound it.
WINDOW = 30.0
#: Seconds of stamps that share a window.
_STEP = 5.0
#: Seconds by which one message contradicts the others before the clock is said to have jumped.
JUMPED = 0.002
#: Newest messages that a new one is held against.
_NEWEST = 256


class PhoneLine(NamedTuple):
    """The line from a phone's clock to ours about a stamp: ours = stamp + offset, within the half-width."""

    stamp: float
    offset: float
    half_width: float


class _Bounds:
    """Messages between two jumps: stamps of the phone, and the upper and lower bounds of its offset."""

    def __init__(self) -> None:
        self.up: tuple[list[float], list[float]] = ([], [])
        self.down: tuple[list[float], list[float]] = ([], [])
        self.first = np.inf

    def add(self, stamp: float, offset: float, *, up: bool) -> bool:
        """Add a bound; False where it contradicts the others."""
        mine, others = (self.up, self.down) if up else (self.down, self.up)
        if others[0]:
            at, bound = np.array(others[0][-_NEWEST:]), np.array(others[1][-_NEWEST:])
            room = FASTEST * np.abs(at - stamp) + JUMPED
            if (offset < bound - room).any() if up else (offset > bound + room).any():
                return False
        mine[0].append(stamp)
        mine[1].append(offset)
        self.first = min(self.first, stamp)
        return True

    def offsets(self, stamps: Floats) -> tuple[Floats, Floats]:
        """Return the middle and half the range of the possible offsets at each stamp."""
        middle, half = np.full(stamps.size, np.nan), np.full(stamps.size, np.inf)
        if not (self.up[0] and self.down[0]):
            return middle, half
        up, down = np.array(self.up), np.array(self.down)
        keys = np.floor(stamps / _STEP)
        for key in np.unique(keys):
            here = keys == key
            centre = (key + 0.5) * _STEP
            middle[here], half[here] = _between(_near(up, centre), _near(down, centre), stamps[here], centre)
        return middle, half


def _near(bounds: Floats, centre: float) -> Floats:
    """Return the bounds within a window; without any, all of them."""
    inside = np.abs(bounds[0] - centre) <= WINDOW
    return bounds[:, inside] if inside.any() else bounds


def _between(up: Floats, down: Floats, stamps: Floats, centre: float) -> tuple[Floats, Floats]:
    """Return middle and half-width of all lines between the lower and the upper bounds."""
    above, below = _hull(up[0] - centre, up[1] + WANDER, lower=True), _hull(down[0] - centre, down[1] - WANDER)
    slopes = np.concatenate([[-FASTEST, FASTEST], *(np.diff(y) / np.diff(x) for x, y in (above, below))])
    slopes = np.unique(slopes[np.abs(slopes) <= FASTEST])

    def span(rates: Floats) -> tuple[Floats, Floats]:
        """Highest and lowest offset at the centre, by rate."""
        highest = (above[1] - rates[:, None] * above[0]).min(axis=1)
        return highest, (below[1] - rates[:, None] * below[0]).max(axis=1)

    highest, lowest = span(slopes)
    room = highest - lowest
    # between neighbouring slopes both bounds are straight: where they meet is where the possible rates end
    turns = np.flatnonzero(room[:-1] * room[1:] < 0)
    meet = slopes[turns] + (slopes[turns + 1] - slopes[turns]) * room[turns] / (room[turns] - room[turns + 1])
    if not (room >= 0).any():
        # the rate changed within the window: the least contradicted line, and the contradiction as its half-width
        best = int(np.argmax(room))
        offset = (highest[best] + lowest[best]) / 2 + slopes[best] * (stamps - centre)
        return offset, np.full(stamps.size, -room[best] + WANDER)
    rates = np.concatenate([slopes[room >= 0], meet])
    highest, lowest = span(rates)
    run = rates * (stamps[:, None] - centre)
    top, bottom = (highest + run).max(axis=1), (lowest + run).min(axis=1)
    return (top + bottom) / 2, (top - bottom) / 2


def _hull(x: Floats, y: Floats, *, lower: bool = False) -> tuple[Floats, Floats]:
    """Return the corners of the lower or upper convex hull of points (monotone chain, Andrew 1979, from memory)."""
    sign = 1.0 if lower else -1.0
    order = np.lexsort((sign * y, x))
    corners: list[tuple[float, float]] = []
    for at, value in zip(x[order].tolist(), (sign * y[order]).tolist(), strict=True):
        if corners and corners[-1][0] == at:
            continue
        while len(corners) > 1:
            (ax, ay), (bx, by) = corners[-2:]
            if (bx - ax) * (value - ay) > (by - ay) * (at - ax):
                break
            corners.pop()
        corners.append((at, value))
    hull = np.array(corners).T
    return hull[0], sign * hull[1]


class PhoneClock:
    """The clock of one page against ours.

    Examples
    --------
    >>> clock = PhoneClock()
    >>> for second in range(10):
    ...     clock.add_up(second + 0.0, 100.004 + second)
    ...     clock.add_down(100.0 + second, second + 0.006)
    >>> line = clock.line(5.0)
    >>> round(line.offset, 4), round(line.half_width, 4)
    (99.999, 0.0051)
    """

    def __init__(self) -> None:
        self._stretches = [_Bounds()]
        self._newest = -np.inf

    def add_up(self, sent: float, received: float) -> None:
        """Add a message from the phone: sent on its clock, received on ours."""
        self._add(sent, received - sent, up=True)

    def add_down(self, sent: float, received: float) -> None:
        """Add a message to the phone: sent on our clock, received on its own."""
        self._add(received, sent - received, up=False)

    def _add(self, stamp: float, offset: float, *, up: bool) -> None:
        if not self._stretches[-1].add(stamp, offset, up=up):
            self._stretches.append(_Bounds())
            self._stretches[-1].add(stamp, offset, up=up)
        self._newest = stamp

    @property
    def jumps(self) -> int:
        """Number of times that the clock jumped or stood still."""
        return len(self._stretches) - 1

    def place(self, stamps: ArrayLike) -> tuple[Floats, Floats]:
        """Convert stamps of the phone to our clock.

        Parameters
        ----------
        stamps : array_like, shape (n,)
            Seconds on the phone's clock.

        Returns
        -------
        ours, half_width : numpy.ndarray, shape (n,)
            Seconds on our clock, and the bound of their error; NaN and infinity where nothing is known, as about a
            jump.
        """
        wanted = np.asarray(stamps, dtype=np.float64).reshape(-1)
        ours, half = np.full(wanted.size, np.nan), np.full(wanted.size, np.inf)
        firsts = [stretch.first for stretch in self._stretches]
        for index, stretch in enumerate(self._stretches):
            start = -np.inf if index == 0 else firsts[index]
            end = firsts[index + 1] if index + 1 < len(firsts) else np.inf
            # a way that does not contradict may still be behind the jump: both have to have been heard
            last = min(max(each[0], default=-np.inf) for each in (stretch.up, stretch.down)) if end < np.inf else end
            here = (wanted >= start) & (wanted < end) & (wanted <= last)
            if here.any():
                middle, half[here] = stretch.offsets(wanted[here])
                ours[here] = wanted[here] + middle
        return ours, half

    def line(self, stamp: float | None = None) -> PhoneLine:
        """Return the line about a stamp, by default the newest one."""
        at = self._newest if stamp is None else stamp
        ours, half = self.place([at])
        return PhoneLine(at, float(ours[0]) - at, float(half[0]))
