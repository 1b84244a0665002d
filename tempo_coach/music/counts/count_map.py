"""``CountMap``: from seconds of the music to counts and back.

A position on the music is a float in counts: 0 is the first count 1, 8 the next one after a whole eight, 2.5 the "and"
after count 3. Between two beats the count grows evenly; in a pause it stands still.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from tempo_coach.times import Floats, Ints, ascending, column, whole

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from numpy.typing import ArrayLike

    from tempo_coach.music.beats.finder import Beats

#: Counts in an eight where nothing else is said.
EIGHT = 8
#: Intervals at either end of the beats from which the tempo beyond it is extrapolated: enough to average a wobble out,
#: few enough to follow a closing ritardando.
EDGE_INTERVALS = 4


@dataclass(frozen=True)
class Position:
    """A position as a coach says it: both numbers start at 1."""

    eight: int
    count: float


@dataclass(frozen=True, eq=False)
class CountMap:
    """Beats numbered as counts, grouped into eights, with the pauses in which the count stands still.

    Parameters
    ----------
    beats : array_like, shape (n,), n >= 2
        Time of every count in seconds of the music, strictly ascending.
    eights : sequence of (start, length)
        Index of the beat on which each eight begins, and its number of counts (8; 4 or 6 for bridges and waltzes).
        Without gaps: each begins where the one before ends. Position 0 is the first eight's first beat. After the
        last one they go on by eights of the last length.
    pauses : sequence of (start, end)
        Stretches of seconds without counts, each inside one interval between two beats.

    Raises
    ------
    ValueError
        If beats are not ascending, eights leave a gap, or a pause reaches over a beat.

    Examples
    --------
    >>> steady = CountMap.steady(120)
    >>> float(steady.seconds_at(8))
    4.0
    >>> steady.place(9.5)
    Position(eight=2, count=2.5)
    """

    beats: Floats
    eights: tuple[tuple[int, int], ...] = ((0, EIGHT),)
    pauses: tuple[tuple[float, float], ...] = ()
    _knot_seconds: Floats = field(init=False, repr=False)
    _knot_counts: Floats = field(init=False, repr=False)
    _eight_starts: Ints = field(init=False, repr=False)
    _edge_rates: tuple[float, float] = field(init=False, repr=False)

    def __post_init__(self) -> None:
        beats = ascending(self.beats, name="beats", strict=True)
        if beats.size < 2:
            raise ValueError(f"beats: expected two or more, got {beats.size}")
        eights = tuple((int(start), int(length)) for start, length in self.eights)
        _check_eights(eights)
        pauses = tuple((float(start), float(end)) for start, end in self.pauses)
        seconds, counts = _add_pauses(beats, np.arange(beats.size, dtype=np.float64) - eights[0][0], pauses)
        put = object.__setattr__
        put(self, "beats", beats)
        put(self, "eights", eights)
        put(self, "pauses", pauses)
        put(self, "_knot_seconds", column(seconds, name="knots"))
        put(self, "_knot_counts", column(counts, name="knots"))
        put(self, "_eight_starts", whole([start - eights[0][0] for start, _ in eights], name="eights"))
        put(self, "_edge_rates", _find_edge_rates(self._knot_seconds, self._knot_counts, beats))

    @classmethod
    def steady(cls, tempo_bpm: float, *, start: float = 0.0) -> CountMap:
        """Return the counts of an unending even tempo with count 0 at ``start`` seconds.

        Parameters
        ----------
        tempo_bpm : float
            Above 0.
        start : float
            Seconds.
        """
        return cls(np.array([start, start + 60.0 / tempo_bpm]))

    @classmethod
    def from_beats(cls, beats: Beats) -> CountMap:
        """Return the counts of found beats: their eights, or two bars of four an eight and two of three a six.

        Where only bars are known the first count 1 is the first beat that begins one. A rest begins one beat's length
        after the last beat before it, because that beat's count is still danced.

        Parameters
        ----------
        beats : Beats
            Two or more.

        Raises
        ------
        ValueError
            If there are fewer than two.
        """
        if beats.times.size < 2:
            raise ValueError(f"beats: expected two or more, got {beats.times.size}")
        ones = np.flatnonzero(beats.bar == 1)
        first = int(ones[0]) if ones.size else 0
        length = 6 if beats.bar.max(initial=1) == 3 else EIGHT
        number = max(1, -(-(beats.times.size - first) // length))
        eights = beats.eights or tuple((first + k * length, length) for k in range(number))
        rests = [(rest.start, rest.end) for rest in beats.rests]
        return cls(beats.times, eights, tuple(pauses_of_rests(beats.times, rests)))

    @property
    def first_count(self) -> float:
        """Position of the first beat: 0, or negative where beats lead up to the first count 1."""
        return float(-self.eights[0][0])

    @property
    def last_count(self) -> float:
        """Position of the last beat."""
        return float(self.beats.size - 1 - self.eights[0][0])

    @property
    def tempo_bpm(self) -> float:
        """Median tempo in beats a minute."""
        return float(60.0 / np.median(np.diff(self.beats)))

    def counts_at(self, seconds: ArrayLike) -> Floats:
        """Return the position in counts at each time.

        Parameters
        ----------
        seconds : array_like
            Seconds of the music. Before the first and after the last beat the tempo of the nearest
            ``EDGE_INTERVALS`` intervals goes on.

        Returns
        -------
        numpy.ndarray, the shape of ``seconds``
            Every time inside a pause gives the position that was reached before it.
        """
        return _read(self._knot_seconds, self._knot_counts, seconds, self._edge_rates, side="right")

    def seconds_at(self, counts: ArrayLike, *, after: bool = False) -> Floats:
        """Return the time of each position.

        Parameters
        ----------
        counts : array_like
            Positions in counts.
        after : bool
            At a position that stands still in a pause: whether to return the pause's end instead of its start.

        Returns
        -------
        numpy.ndarray, the shape of ``counts``
        """
        before, behind = self._edge_rates
        side = "right" if after else "left"
        return _read(self._knot_counts, self._knot_seconds, counts, (1 / before, 1 / behind), side=side)

    def period_at(self, counts: ArrayLike) -> Floats:
        """Return the length of a count in seconds around each position, pauses left out."""
        whole_counts = np.floor(np.asarray(counts, dtype=np.float64))
        return self.seconds_at(whole_counts + 1) - self.seconds_at(whole_counts, after=True)

    def place(self, count: float) -> Position:
        """Return eight and count of a position as a coach says them, both from 1.

        Positions before the first count 1 lie in eights numbered 0, -1, … of 8 counts each.
        """
        starts = self._eight_starts
        if count < 0:
            eight = int(np.floor(count / EIGHT))
            return Position(eight + 1, count - eight * EIGHT + 1)
        last = int(np.searchsorted(starts, count, side="right")) - 1
        more = 0
        if last == starts.size - 1:
            length = self.eights[-1][1]
            more = int((count - starts[-1]) // length)
        return Position(last + more + 1, float(count - self.start_of_eight(last + more + 1) + 1))

    def start_of_eight(self, eight: int) -> int:
        """Return the position of the first count of an eight (numbered from 1; later ones follow on)."""
        starts = self._eight_starts
        if eight < 1:
            return (eight - 1) * EIGHT
        if eight <= starts.size:
            return int(starts[eight - 1])
        return int(starts[-1]) + (eight - starts.size) * self.eights[-1][1]


def _check_eights(eights: Sequence[tuple[int, int]]) -> None:
    if not eights:
        raise ValueError("eights: expected at least one")
    if eights[0][0] < 0:
        raise ValueError(f"eights: expected a first beat of 0 or more, got {eights[0][0]}")
    expected = eights[0][0]
    for start, length in eights:
        if length < 1:
            raise ValueError(f"eights: expected lengths of 1 or more, got {length}")
        if start != expected:
            raise ValueError(f"eights: expected the next one at beat {expected}, got {start}")
        expected = start + length


def _add_pauses(beats: Floats, counts: Floats, pauses: Sequence[tuple[float, float]]) -> tuple[Floats, Floats]:
    """Add two knots of equal count for each pause; the rest of its interval shares one count."""
    seconds_of = beats.tolist()
    counts_of = counts.tolist()
    for start, end in sorted(pauses, reverse=True):
        before = int(np.searchsorted(beats, start, side="right")) - 1
        if before < 0 or before + 1 >= beats.size or not start < end <= beats[before + 1]:
            raise ValueError(f"pauses: expected each inside one interval between beats, got {start} to {end}")
        left, right = float(beats[before]), float(beats[before + 1])
        moving = (right - left) - (end - start)
        # a pause that fills its interval holds the count before it to the end; the next one then comes at once
        level = float(counts[before] + ((start - left) / moving if moving > 0 else 0.0))
        inner = [(start, level)] if start > left else []
        if end < right or moving <= 0:
            inner.append((end, level))
        seconds_of[before + 1 : before + 1] = [s for s, _ in inner]
        counts_of[before + 1 : before + 1] = [c for _, c in inner]
    return np.array(seconds_of), np.array(counts_of)


def _find_edge_rates(seconds: Floats, counts: Floats, beats: Floats) -> tuple[float, float]:
    """Return the counts per second before the first and after the last beat."""
    steps, passed = np.diff(counts), np.diff(seconds)
    moving = (steps / np.where(passed > 0, passed, 1.0))[(steps > 0) & (passed > 0)]
    if not moving.size:  # nothing but pauses
        moving = 1 / np.diff(beats)
    return (
        1 / float(np.mean(1 / moving[:EDGE_INTERVALS])),
        1 / float(np.mean(1 / moving[-EDGE_INTERVALS:])),
    )


def pauses_of_rests(beats: Floats, rests: Iterable[tuple[float, float]]) -> Iterable[tuple[float, float]]:
    """Turn rests (last beat before to first beat after) into pauses that leave the last count its full length.

    Parameters
    ----------
    beats : array, shape (n,)
        Seconds.
    rests : iterable of (start, end)
        Seconds.
    """
    steps = np.diff(beats)
    typical = float(np.median(steps))
    for start, end in rests:
        before = int(np.searchsorted(beats, (start + end) / 2, side="right")) - 1
        if not 0 <= before < steps.size:
            continue
        near = np.delete(steps[max(0, before - EDGE_INTERVALS) : before + 1], -1)
        period = float(np.median(near)) if near.size else typical
        if steps[before] > period * 1.05:
            yield float(beats[before]) + period, float(beats[before + 1])


def _read(known: Floats, wanted: Floats, at: ArrayLike, slopes: tuple[float, float], *, side: str) -> Floats:
    """Interpolate piecewise linearly with a slope beyond each end; ``side`` decides at repeated knots."""
    points = np.asarray(at, dtype=np.float64)
    place = np.searchsorted(known, points, side="left" if side == "left" else "right")
    left = np.clip(place - 1, 0, known.size - 2)
    width = known[left + 1] - known[left]
    share = np.divide(points - known[left], width, out=np.zeros_like(points), where=width > 0)
    inside = wanted[left] + share * (wanted[left + 1] - wanted[left])
    before = wanted[0] + (points - known[0]) * slopes[0]
    behind = wanted[-1] + (points - known[-1]) * slopes[1]
    past = points >= known[-1] if side == "right" else points > known[-1]
    return np.where(points < known[0], before, np.where(past, behind, inside))
