"""Bars and counts of eight by one search over the whole piece, from how likely each beat begins either."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from tempo_coach.music.beats.downbeats import NEVER

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from tempo_coach.times import Floats, Ints

METRES = {4: 0.0, 3: -1.0, 2: -3.0}
"""Metres that are tried where none is named, with the log prior of each; a piece may change from one to another."""

_EIGHTS = {
    2: 8,
    4: 8,
    8: 8,
    3: 6,
    6: 6,
}  # counts that are danced together, by metre: bars make eights, or sixes in three
_CYCLES = {
    3: 12
}  # beats after which it all begins again, where that is not one eight: the network hears four bars of three
# The network's probabilities are clipped so far from 0 and 1: of a one, and of an eight that begins at one.
_UNSURE_ONE, _UNSURE_EIGHT = 0.02, 0.1
# Penalties in log odds: of a bar line out of turn, of one after a pause, of another metre. The development set decided,
# between 3 and 8 for the first, with the decoder's own beats.
_SLIP, _SLIP_AFTER_REST, _NEW_METRE = 6.0, 0.5, 6.5
# Log odds for music that begins with an eight, after less than a bar that leads up to it, and not in the middle of one.
_BEGINS = 0.5
# Penalties besides, where a metre is named, of beginning in another one and of changing to it: where bars of another
# length are heard that clearly, the beats are at another level there, and its bar lines are right.
_NOT_NAMED, _AWAY = 12.0, 6.0
# Mean probability of such bar lines from which on they are heard at all: where nothing is, long bars are likelier only
# because they have fewer.
_HEARD = 0.3


class Numbered(NamedTuple):
    """The position of each beat in its bar, from 1, and the eights as (index of the first beat, number of counts).

    No eights where nothing is known of them.
    """

    bar: Ints
    eights: tuple[tuple[int, int], ...] = ()


class _States(NamedTuple):
    """The positions of all metres side by side: metre, place in its cycle, predecessor, and index of the metre."""

    metre: NDArray[np.intp]
    place: NDArray[np.intp]
    before: NDArray[np.intp]
    block: NDArray[np.intp]
    edges: tuple[int, ...]


def find_eights(
    ones: Floats, eights: Floats, rested: NDArray[np.bool_], *, meter: int | None = None, one: int | None = None
) -> Numbered:
    """Number beats by bar and by eight.

    Parameters
    ----------
    ones, eights : array, shape (n,)
        Probability that a bar begins on each beat, and that an eight does where a bar does.
    rested : array of bool, shape (n,)
        True where a pause comes before the beat: a count often begins anew there.
    meter : int or None
        Beats a bar, which others have to be heard clearly against; without it the likeliest of `METRES`, which may
        change.
    one : int or None
        Index of a beat that is known to begin a bar.

    Returns
    -------
    Numbered

    Notes
    -----
    Viterbi's search: position follows position; out of turn only a bar can begin, at the penalty of a slip, so that a
    cut leaves one short eight before it and the next begins whole.

    Examples
    --------
    >>> ones = np.tile([0.9, 0.1, 0.1, 0.1], 6)
    >>> eights = np.tile([0.2, 0, 0, 0, 0.8, 0, 0, 0], 3)
    >>> find_eights(ones, eights, np.zeros(24, bool)).eights
    ((4, 8), (12, 8), (20, 8))
    """
    if not len(ones):
        return Numbered(np.zeros(0, np.int64))
    named = {} if meter is None else {meter: 0.0}
    for tried in (dict.fromkeys(METRES, -_NOT_NAMED) | named if named else METRES, named):
        states = _lay_out(tuple(tried))
        away = [0.0 if meter in (None, each) else _AWAY for each in tried]
        path = _follow(states, _score(states, ones, eights, one=one), rested, [*tried.values()], away)
        metre, place = states.metre[path], states.place[path]
        unnamed = ones[(place % metre == 0) & (metre != meter)]
        if meter is None or not unnamed.size or np.mean(unnamed) >= _HEARD:
            break
    return Numbered((place % metre + 1).astype(np.int64), _group(states, path))


def _lay_out(metres: tuple[int, ...]) -> _States:
    metre: list[int] = []
    place: list[int] = []
    before: list[int] = []
    block: list[int] = []
    edges = [0]
    for number, each in enumerate(metres):
        size = _CYCLES.get(each, _EIGHTS.get(each, each))
        metre += [each] * size
        place += range(size)
        before += [edges[-1] + (k - 1) % size for k in range(size)]
        block += [number] * size
        edges.append(edges[-1] + size)
    return _States(np.array(metre), np.array(place), np.array(before), np.array(block), tuple(edges))


def _score(states: _States, ones: Floats, eights: Floats, *, one: int | None) -> Floats:
    """Return the log likelihood of each state at each beat, shape (n, states)."""
    first = np.clip(ones, _UNSURE_ONE, 1 - _UNSURE_ONE)[:, None]
    eighth = np.clip(eights, _UNSURE_EIGHT, 1 - _UNSURE_EIGHT)[:, None]
    begins = states.place % states.metre == 0
    scores = np.where(begins, np.log(first), np.log(1 - first))
    scores += np.where(begins, np.where(states.place == 0, np.log(eighth), np.log(1 - eighth)), 0.0)
    if one is not None:
        scores[one, ~begins] = NEVER
    return np.asarray(scores, np.float64)


def _follow(
    states: _States, scores: Floats, rested: NDArray[np.bool_], priors: list[float], away: list[float]
) -> NDArray[np.intp]:
    """Return the state of each beat on the best path, given the metres' log priors and the cost of changing metre."""
    number, size = scores.shape
    whole = np.diff(states.edges)[states.block]
    begins = (states.place == 0) | (states.place > whole - states.metre)  # with the eight, or with what leads up to it
    total = scores[0] + np.array(priors)[states.block] + _BEGINS * begins
    new = _NEW_METRE + np.array(away)[states.block]
    came = np.empty((number, size), np.intp)
    inside = np.where(states.place % states.metre == 0, 0.0, NEVER)
    spans = list(zip(states.edges[:-1], states.edges[1:], strict=True))
    for beat in range(1, number):
        best = np.array([low + int(total[low:high].argmax()) for low, high in spans])
        leader = int(best[total[best].argmax()])
        slipped = total[best][states.block] - (_SLIP_AFTER_REST if rested[beat] else _SLIP)
        changed = total[leader] - new
        irregular = np.maximum(slipped, changed) + inside
        regular = total[states.before]
        source = np.where(slipped >= changed, best[states.block], leader)
        came[beat] = np.where(regular >= irregular, states.before, source)
        total = np.maximum(regular, irregular) + scores[beat]
    path = np.empty(number, np.intp)
    path[-1] = int(total.argmax())
    for beat in range(number - 1, 0, -1):
        path[beat - 1] = came[beat, path[beat]]
    return path


def _group(states: _States, path: NDArray[np.intp]) -> tuple[tuple[int, int], ...]:
    """Return the eights of a path; a slip leaves a short one."""
    counts = np.array([_EIGHTS.get(int(each), 0) for each in states.metre])[path]
    if not counts.all():
        return ()
    slipped = np.concatenate([[False], states.before[path[1:]] != path[:-1]])
    starts = np.flatnonzero((states.place[path] % counts == 0) | slipped)
    if not len(starts):
        return ()
    lengths = np.diff(starts, append=starts[-1] + counts[-1])
    return tuple((int(start), int(length)) for start, length in zip(starts, lengths, strict=True))
