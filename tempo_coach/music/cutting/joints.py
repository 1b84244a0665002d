"""Joints of a cut: pieces from count to count, each moved to the attack that sounds there."""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from tempo_coach.errors import CoachError
from tempo_coach.music.cutting.attacks import NEAR, Peak, find_attack, find_peaks
from tempo_coach.music.cutting.cut_list import CutPiece
from tempo_coach.music.cutting.matched_sides import match_sides
from tempo_coach.music.cutting.musical_key import MusicalKey, find_key, find_tones, is_other_key

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from tempo_coach.music.counts.count_map import CountMap
    from tempo_coach.music.files.sound import Sound

#: Share above which a step of tempo is reported: what is heard over a few intervals (Drake and Botte 1993, abstract).
TEMPO_STEP = 0.03
#: Intervals on either side of a joint that say how fast it goes there, and seconds whose tones say in which key.
_INTERVALS, _TONES_S = 6, 20.0
#: Seconds of the music that are heard before the very first attack.
_BEFORE_FIRST = 0.010
#: Of the attacks on both sides the two are joined whose strengths have the largest product, times e to this number of
#: correlations of all that sounds around them at their lag. Chosen on pieces of all 16 kinds of music.
_IN_RHYTHM = 6.0
#: Seconds that a piece has at least: less is no music that could be joined.
SHORTEST = 0.5


class KeptSpan(NamedTuple):
    """A stretch to be kept, from a position in counts to the one at which it ends."""

    start: float
    end: float


@dataclass(frozen=True)
class Joint:
    """The joint between two successive pieces.

    Parameters
    ----------
    left, right : float
        Positions in counts of the music at which the one is over and the other begins.
    moved_left, moved_right : float
        Seconds from the counts to the attacks that were joined; positive is later.
    heard : (bool, bool)
        Whether an attack was heard there, or its place follows from those beside it.
    tempi_bpm : (float, float)
        Beats a minute before and after it.
    keys : tuple of MusicalKey or None
        Keys before and after it, where it changes.
    """

    left: float
    right: float
    moved_left: float
    moved_right: float
    heard: tuple[bool, bool]
    tempi_bpm: tuple[float, float]
    keys: tuple[MusicalKey, MusicalKey] | None

    @property
    def tempo_step(self) -> float:
        """Relative increase of the tempo."""
        return self.tempi_bpm[1] / self.tempi_bpm[0] - 1


def join(sound: Sound, counts: CountMap, kept: Sequence[KeptSpan]) -> tuple[tuple[CutPiece, ...], tuple[Joint, ...]]:
    """Return the kept pieces, from attack to attack, and the joints between them.

    Parameters
    ----------
    sound : Sound
    counts : CountMap
        Of the sound, corrected.
    kept : sequence of KeptSpan
        In the order in which they are to be heard.

    Raises
    ------
    CoachError
        If a piece is too short to be joined.
    """
    begins = [_attack(sound, counts, each.start, after=True) for each in kept]
    ends = [_attack(sound, counts, each.end, after=False) for each in kept]
    for k in range(1, len(kept)):
        ends[k - 1], begins[k] = _set_together(sound, ends[k - 1], begins[k])
    pieces = []
    for k, each in enumerate(kept):
        start = begins[k].time
        if k == 0:  # its count may lie before the attack, and is to be heard too
            start = max(0.0, min(start - _BEFORE_FIRST, float(counts.seconds_at(each.start, after=True))))
        end = min(ends[k].time, sound.duration)
        if end - start < SHORTEST:
            raise CoachError("cut.piece_short", where=f"--keep, piece {k + 1}", least_s=SHORTEST)
        pieces.append(CutPiece(start, end, soft=k > 0 and not begins[k].heard))
    tones = [
        (find_tones(sound, each.start, min(each.end, each.start + _TONES_S)),
         find_tones(sound, max(each.start, each.end - _TONES_S), each.end))
        for each in pieces
    ]  # fmt: skip
    joints = tuple(
        Joint(
            kept[k].end,
            kept[k + 1].start,
            ends[k].time - float(counts.seconds_at(kept[k].end)),
            begins[k + 1].time - float(counts.seconds_at(kept[k + 1].start, after=True)),
            (ends[k].heard, begins[k + 1].heard),
            (_tempo(counts, kept[k], at_end=True), _tempo(counts, kept[k + 1], at_end=False)),
            _other_keys(tones[k][1], tones[k + 1][0]),
        )
        for k in range(len(kept) - 1)
    )
    return tuple(pieces), joints


class _Place(NamedTuple):
    """One side of a joint: seconds of its count and of the joint, whether an attack was heard, whether it rests."""

    own: float
    time: float
    heard: bool
    rests: bool = False


def _attack(sound: Sound, counts: CountMap, position: float, *, after: bool) -> _Place:
    """Return the attack at a position in counts."""
    first, last = counts.first_count, counts.last_count
    around = np.clip(position + np.arange(-4.0, 5.0), first, last + 1)
    near = sorted(set(counts.seconds_at(around, after=after).tolist()))
    here = float(counts.seconds_at(position, after=after))
    pause = next((each for each in counts.pauses if abs(each[0] - here) < 1e-6), None)
    if pause is not None and not after:
        # the last count before a pause is over where it begins: nothing is struck there
        return _Place(here, here, heard=True, rests=True)
    near = sorted({*near, here})
    found = find_attack(sound, near, near.index(here))
    return _Place(here, found.time, found.heard)


def _set_together(sound: Sound, left: _Place, right: _Place) -> tuple[_Place, _Place]:
    """Return both sides of a joint so that the beat goes on: on two attacks, or else by the rhythm around them."""
    if left.rests:
        return left, right
    match = match_sides(sound, left.own, right.own)
    pairs = itertools.product(find_peaks(sound, left.own), find_peaks(sound, right.own))

    def fit(pair: tuple[Peak, Peak]) -> float:
        lag = (pair[1].time - right.own) - (pair[0].time - left.own)
        return math.log(pair[0].strength * pair[1].strength) + _IN_RHYTHM * match.at(lag)

    pair = max(pairs, key=fit, default=None)
    if pair is not None:
        return left._replace(time=pair[0].time), right._replace(time=pair[1].time)
    # no later than the attack of either, so that the one before is not heard and the one after is heard whole
    moved = [side.time - side.own - lag for side, lag in ((left, 0.0), (right, match.lag)) if side.heard]
    by = float(np.clip(min(moved, default=0.0), -NEAR - min(match.lag, 0.0), NEAR - max(match.lag, 0.0)))
    return left._replace(time=max(0.0, left.own + by)), right._replace(time=max(0.0, right.own + match.lag + by))


def _tempo(counts: CountMap, kept: KeptSpan, *, at_end: bool) -> float:
    """Return the tempo at one end of a piece in beats a minute, from its median count there."""
    number = int(min(_INTERVALS, kept.end - kept.start))
    first = kept.end - number if at_end else kept.start
    places = first + np.arange(number)
    lengths = counts.seconds_at(places + 1) - counts.seconds_at(places, after=True)
    return float(60 / np.median(lengths))


def _other_keys(before: NDArray[np.float64], after: NDArray[np.float64]) -> tuple[MusicalKey, MusicalKey] | None:
    if not is_other_key(before, after):
        return None
    keys = find_key(before), find_key(after)
    return (keys[0], keys[1]) if keys[0] and keys[1] else None
