"""The clocks of a phone's page against ours, from messages both ways; pure.

Each opening of a page begins a clock of its own, which tells by the system's time when it began: so far as messages do
not contradict that, they stand on one axis, which a page that is loaded anew goes on with. The bound that is stated
rests on an opening's own messages, whatever the system's time says; only where it has none of one way, it rests on
those of others, and on a system's clock that nobody set meanwhile.
"""

from __future__ import annotations

from collections import deque
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from tempo_coach.live.phones.clock_lines import BLOCK, FASTEST, Direction, agree, bound, find_likeliest, join

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import ArrayLike

    from tempo_coach.live.phones.clock_lines import Fastest
    from tempo_coach.times import Floats

#: Seconds by which one message contradicts the others before the clock is said to have jumped.
JUMPED = 0.002
#: Seconds by which the system's times of two openings may be wrong: browsers round them, and a clock is set slowly.
ORIGIN_ERROR = 0.003
#: Newest messages that a new one is held against.
_NEWEST = 256


class Opening(NamedTuple):
    """One opening of a page: what it calls itself, and when its clock began by the phone's system, in seconds."""

    name: str
    origin: float = 0.0


class PhoneLine(NamedTuple):
    """The line from a phone's clock to ours about a stamp: ours = stamp + offset, within the half-width."""

    stamp: float
    offset: float
    half_width: float


class _Stretch:
    """Messages between two jumps."""

    def __init__(self) -> None:
        self.up, self.down = Direction(1), Direction(-1)
        self.first = np.inf
        self._newest = {sign: (deque[float](maxlen=_NEWEST), deque[float](maxlen=_NEWEST)) for sign in (1, -1)}

    def add(self, stamp: float, offset: float, way: Direction) -> bool:
        """Add a message of one of the ways; False where it contradicts the other way's."""
        at, others = (np.array(each) for each in self._newest[-way.sign])
        if (way.sign * (offset - others) < -FASTEST * np.abs(at - stamp) - JUMPED).any():
            return False
        way.add(stamp, offset)
        for known, value in zip(self._newest[way.sign], (stamp, offset), strict=True):
            known.append(value)
        self.first = min(self.first, stamp)
        return True


class PhoneClock:
    """The clock of one opening against ours.

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
        self.stretches = [_Stretch()]
        self._newest = -np.inf

    def add_up(self, sent: float, received: float) -> None:
        """Add a message from the phone: sent on its clock, received on ours."""
        self._add(sent, received - sent, up=True)

    def add_down(self, sent: float, received: float) -> None:
        """Add a message to the phone: sent on our clock, received on its own."""
        self._add(received, sent - received, up=False)

    def _add(self, stamp: float, offset: float, *, up: bool) -> None:
        newest = self.stretches[-1]
        if not newest.add(stamp, offset, newest.up if up else newest.down):
            newest = _Stretch()
            newest.add(stamp, offset, newest.up if up else newest.down)
            self.stretches.append(newest)
        self._newest = stamp

    @property
    def jumps(self) -> int:
        """Number of times that the clock jumped or stood still."""
        return len(self.stretches) - 1

    def place(self, stamps: ArrayLike, others: Sequence[tuple[float, PhoneClock]] = ()) -> tuple[Floats, Floats]:
        """Convert stamps of the phone to our clock.

        Parameters
        ----------
        stamps : array_like, shape (n,)
            Seconds on this clock.
        others : sequence of (float, PhoneClock)
            Other openings, and how many seconds later than this one each of them began.

        Returns
        -------
        ours, half_width : numpy.ndarray, shape (n,)
            Seconds on our clock, and the bound of their error; NaN and infinity where nothing is known, as about a
            jump.
        """
        wanted = np.asarray(stamps, dtype=np.float64).reshape(-1)
        ours, half = np.full(wanted.size, np.nan), np.full(wanted.size, np.inf)
        firsts = [stretch.first for stretch in self.stretches]
        for index, stretch in enumerate(self.stretches):
            start = -np.inf if index == 0 else firsts[index]
            end = firsts[index + 1] if index + 1 < len(firsts) else np.inf
            # a way that does not contradict may still be behind the jump: both have to have been heard
            last = min(stretch.up.last, stretch.down.last) if end < np.inf else end
            here = np.flatnonzero((wanted >= start) & (wanted < end) & (wanted <= last))
            blocks = np.floor(wanted[here] / BLOCK)
            for block in np.unique(blocks):
                at = here[blocks == block]
                offset, half[at] = _place(stretch, others, wanted[at], (block + 0.5) * BLOCK)
                ours[at] = wanted[at] + offset
        return ours, half

    def line(self, stamp: float | None = None, others: Sequence[tuple[float, PhoneClock]] = ()) -> PhoneLine:
        """Return the line about a stamp, by default the newest one."""
        at = self._newest if stamp is None else stamp
        ours, half = self.place([at], others)
        return PhoneLine(at, float(ours[0]) - at, float(half[0]))


def _place(
    stretch: _Stretch, others: Sequence[tuple[float, PhoneClock]], stamps: Floats, centre: float
) -> tuple[Floats, Floats]:
    """Return offsets and their half-widths within a block."""
    up, down = join(stretch.up.near(centre)), join(stretch.down.near(centre))
    known = up is not None and down is not None
    all_up, all_down = up, down
    for later, clock in sorted(others, key=lambda each: abs(each[0])):
        for other in clock.stretches:
            more_up, more_down = (
                [] if some is None else [some.moved(later)]
                for some in (join(way.near(centre - later, ever=not known)) for way in (other.up, other.down))
            )
            both = _join_with(all_up, more_up), _join_with(all_down, more_down)
            if agree(*both):
                all_up, all_down = both
    if all_up is None or all_down is None:
        return np.full(stamps.size, np.nan), np.full(stamps.size, np.inf)
    mine = (up, down) if up is not None and down is not None else (all_up, all_down)
    lowest, highest = bound(*mine, stamps)
    offset = np.clip(find_likeliest(all_up, all_down, stamps), lowest, highest)
    return offset, np.maximum(highest - offset, offset - lowest) + (0.0 if known else ORIGIN_ERROR)


def _join_with(one: Fastest | None, more: list[Fastest]) -> Fastest | None:
    return join([*([] if one is None else [one]), *more])


class PhoneClocks:
    """The clocks of all openings of one phone's page."""

    def __init__(self) -> None:
        self._clocks: dict[Opening, PhoneClock] = {}

    def __len__(self) -> int:
        return len(self._clocks)

    def __contains__(self, opening: Opening) -> bool:
        return opening in self._clocks

    def of(self, opening: Opening) -> PhoneClock:
        """Return the clock of an opening; of one that is not known yet it is kept from now on."""
        return self._clocks.setdefault(opening, PhoneClock())

    def place(self, opening: Opening, stamps: ArrayLike) -> tuple[Floats, Floats]:
        """Convert stamps of an opening to our clock; see :meth:`PhoneClock.place`."""
        return self._known(opening).place(stamps, self._others(opening))

    def line(self, opening: Opening, stamp: float | None = None) -> PhoneLine:
        """Return the line of an opening about a stamp, by default its newest one."""
        return self._known(opening).line(stamp, self._others(opening))

    def _known(self, opening: Opening) -> PhoneClock:
        """Return the clock of an opening; of one that sent nothing itself an empty one, which is not kept."""
        return self._clocks.get(opening) or PhoneClock()

    def _others(self, opening: Opening) -> list[tuple[float, PhoneClock]]:
        return [(other.origin - opening.origin, clock) for other, clock in self._clocks.items() if other != opening]
