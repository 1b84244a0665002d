"""Phase of a movement by its likeness to the median cycle of all, in all columns at once.

Crossings of one filtered column time a cycle well and count it badly: where the first harmonic is weak, one is lost or
there are two. Where a stretch resembles the median cycle, it is one cycle, whatever crosses there.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from tempo_coach.observe.trace.filters import find_nearest, low_pass, running_mean

if TYPE_CHECKING:
    from tempo_coach.observe.trace.resampling import Unrolled
    from tempo_coach.times import Floats, Ints

#: Phases a cycle, and steps from a window to the next; a window is one cycle.
_BINS, _HOP = 48, 8
#: Harmonics that are compared.
_HARMONICS = 8.0
#: Cycles from which the first template is chosen, windows that it is held against at the most, and passes of matching
#: and taking the median.
_FIRST, _COMPARED, _PASSES = 8, 600, 3
#: Penalty of a change of phase by d cycles from window to window, in similarity: min(steep d², flat + slope d).
_STEEP, _FLAT, _SLOPE = 8.0, 1.0, 1.5
#: Windows of a piece of the path, and windows after which it has forgotten where it began.
_PIECE, _FORGOTTEN = 240, 60
#: Cycles by which one crossing follows another too soon.
TOO_SOON = 0.4
#: Distance from its phase within which a crossing is that of a cycle, the SD of these distances from which the phase
#: itself times better, and the least resultant length of the phases of crossings that are those of cycles.
NEAR_PHASE, _SCATTERED, CONCENTRATED = 0.25, 0.08, 0.8
#: Cycles by which a start may lie before the record's first reading or after its last one and still be counted: as far
#: as noise moves it.
EDGE = 0.04
#: Similarity to the median cycle, relative to the median one, from which a stretch is surely that cycle.
_ALIKE = 0.6


@dataclass(frozen=True, eq=False)
class FollowedPhase:
    """Phase of the readings in cycles.

    Parameters
    ----------
    turns : numpy.ndarray, shape (n,)
        Of every unrolled reading, ascending.
    alike : numpy.ndarray of bool, shape (n,)
        True where the movement resembles the median cycle.
    """

    turns: Floats
    alike: np.ndarray[tuple[int], np.dtype[np.bool_]]


def find_phase(unrolled: Unrolled, moving: np.ndarray[tuple[int], np.dtype[np.bool_]]) -> FollowedPhase | None:
    """Follow the phase through the readings; None below four cycles of movement.

    Parameters
    ----------
    unrolled : Unrolled
    moving : numpy.ndarray of bool, shape (n,)
    """
    calm = low_pass(unrolled.values, unrolled.per_cycle, _HARMONICS)
    calm = calm - running_mean(calm, unrolled.per_cycle)
    step = unrolled.per_cycle / _BINS
    places = np.arange(0, len(calm) - 1, step)
    at = np.rint(places).astype(int)
    seen = (unrolled.known & moving)[at]
    readings = calm[at] * seen[:, None]
    starts = np.arange(0, at.size - _BINS + 1, _HOP)
    full = np.flatnonzero(seen[starts[:, None] + np.arange(_BINS)].mean(axis=1) > 0.99) if starts.size else starts
    if full.size < 4 * _BINS // _HOP:
        return None
    windows = readings[starts[:, None] + np.arange(_BINS)]
    energy = np.einsum("wnd,wnd->w", windows, windows)
    spectra = np.fft.rfft(windows, axis=1).conj()
    trials = full[np.linspace(0, full.size - 1, _FIRST + 2).astype(int)[1:-1]]
    some = full[np.linspace(0, full.size - 1, min(full.size, _COMPARED)).astype(int)]
    likeness = [float(_match(spectra[some], energy[some], windows[k]).max(axis=1).mean()) for k in trials]
    template = windows[trials[int(np.argmax(likeness))]]
    # windows begin at other phases of the template: a hop of the clock is taken out of each
    clock = starts % _BINS
    for _ in range(_PASSES):
        like = _match(spectra, energy, template)
        rolled = like[np.arange(starts.size)[:, None], (np.arange(_BINS) + clock[:, None]) % _BINS]
        path = _follow(rolled)
        turns = (np.unwrap(path * 2 * np.pi / _BINS) / (2 * np.pi) * _BINS + starts) / _BINS
        template = _median_cycle(readings, seen, starts, turns)
    best = rolled[np.arange(starts.size), path]
    fine = turns + _refine(rolled, path) / _BINS
    middle = (starts + _BINS / 2) * step
    typical = float(np.median(best[full]))
    n = np.arange(len(calm))
    ahead = (n - middle[0]) / unrolled.per_cycle
    behind = (n - middle[-1]) / unrolled.per_cycle
    phase = np.interp(n, middle, fine + 0.5) + np.minimum(ahead, 0) + np.maximum(behind, 0)
    alike = np.interp(n, middle, best) > _ALIKE * typical
    return FollowedPhase(np.maximum.accumulate(phase), alike)


def find_one_a_cycle(
    places: Floats, moving: np.ndarray[tuple[int], np.dtype[np.bool_]], phase: FollowedPhase
) -> Floats:
    """Return one crossing a cycle where the movement resembles the median cycle, and elsewhere those that are there.

    Parameters
    ----------
    places : numpy.ndarray, shape (k,)
        Crossings at fractional indices, ascending.
    moving : numpy.ndarray of bool, shape (n,)
    phase : FollowedPhase
    """
    if places.size < 2:
        return places
    turns = np.interp(places, np.arange(phase.turns.size), phase.turns)
    at = np.rint(places).astype(int)
    mean = np.exp(2j * np.pi * turns[phase.alike[at]]).sum() / max(int(phase.alike[at].sum()), 1)
    zero = float(np.angle(mean) / (2 * np.pi))
    rising = phase.turns + 1e-9 * np.arange(phase.turns.size)
    wanted = np.arange(np.ceil(rising[0] - zero - EDGE), np.floor(rising[-1] - zero + EDGE) + 1) + zero
    counted = np.interp(wanted, rising, np.arange(rising.size))
    rate = float(np.median(np.diff(phase.turns)))
    counted = counted + (np.minimum(wanted - rising[0], 0) + np.maximum(wanted - rising[-1], 0)) / rate
    # a record that begins or ends in mid-movement where a cycle does holds that start, whether or not it crosses there
    cut = ((wanted < rising[0] + EDGE) & moving[0]) | ((wanted > rising[-1] - EDGE) & moving[-1])
    inside = np.clip(np.rint(counted).astype(int), 0, moving.size - 1)
    kept = moving[inside] & phase.alike[inside]
    wanted, counted, cut = wanted[kept], counted[kept], cut[kept]
    if not wanted.size:
        return places
    nearest = find_nearest(turns, wanted)
    off = turns[nearest] - wanted
    found = (np.abs(off) < NEAR_PHASE) & (abs(mean) > CONCENTRATED)
    scatter = 1.4826 * float(np.median(np.abs(off[found] - np.median(off[found])))) if found.any() else np.inf
    # none is invented beside an end, where half a cycle would be all that shows it
    quarter = round(NEAR_PHASE / rate)
    outside = np.pad(~moving, quarter, constant_values=True)
    deep = ~(outside[inside[kept]] | outside[inside[kept] + 2 * quarter]) | ~found.any()
    timed = np.where(found & (scatter < _SCATTERED), places[nearest], counted)[found | deep | cut]
    others = places[~phase.alike[at]]
    away = np.abs(others - timed[find_nearest(timed, others)])
    per_cycle = float(np.median(np.diff(counted))) if counted.size > 1 else 1.0
    return np.sort(np.concatenate([timed, others[away > TOO_SOON * per_cycle]]))


def _match(spectra: np.ndarray, energy: Floats, template: Floats) -> Floats:
    """Return the similarity of each window (conjugate spectrum) to the template at each phase, (windows, phases)."""
    other = np.fft.rfft(template, axis=0)
    products = np.fft.irfft(np.einsum("wfd,fd->wf", spectra, other), _BINS, axis=1)
    return np.asarray(2 * products / np.maximum(energy + (template**2).sum(), 1e-300)[:, None])


def _follow(like: Floats) -> Ints:
    """Return the path of least cost through the phases of all windows (Viterbi), phases being cyclic.

    A long record is cut into pieces that are followed side by side. Each begins and ends so far outside what is kept
    of it that the path has forgotten where it began.
    """
    apart = np.abs(np.arange(_BINS)[:, None] - np.arange(_BINS))
    apart = np.minimum(apart, _BINS - apart) / _BINS
    cost = np.minimum(_STEEP * apart**2, _FLAT + _SLOPE * apart)
    pieces = max(1, len(like) // _PIECE)
    edges = np.linspace(0, len(like), pieces + 1).astype(int)
    long = int(np.diff(edges).max()) + (2 * _FORGOTTEN if pieces > 1 else 0)
    first = np.clip(edges[:-1] - _FORGOTTEN, 0, len(like) - long)
    rows = like[first[:, None] + np.arange(long)].astype(np.float32)
    cost = cost.astype(np.float32)
    total, back = rows[:, 0], np.zeros(rows.shape, dtype=np.int64)
    each = np.arange(pieces * _BINS)
    for row in range(1, long):
        ways = (total[:, None, :] - cost).reshape(-1, _BINS)
        best = ways.argmax(axis=1)
        back[:, row] = best.reshape(pieces, _BINS)
        total = ways[each, best].reshape(pieces, _BINS) + rows[:, row]
    path, piece = np.empty(rows.shape[:2], dtype=np.int64), np.arange(pieces)
    path[:, -1] = total.argmax(axis=1)
    for row in range(long - 1, 0, -1):
        path[:, row - 1] = back[piece, row, path[:, row]]
    return np.concatenate([path[k, edges[k] - first[k] : edges[k + 1] - first[k]] for k in range(pieces)])


def _refine(like: Floats, path: Ints) -> Floats:
    """Return the offset of each maximum from its phase by a parabola; 0 where the path leaves it."""
    row = np.arange(len(like))
    before, here, behind = (like[row, (path + k) % _BINS] for k in (-1, 0, 1))
    bend = before - 2 * here + behind
    off = np.where(bend < 0, 0.5 * (before - behind) / np.where(bend < 0, bend, -1), 0)
    return np.asarray(np.clip(off, -1, 1))


def _median_cycle(
    readings: Floats, seen: np.ndarray[tuple[int], np.dtype[np.bool_]], starts: Ints, turns: Floats
) -> Floats:
    """Return the median of all cycles, resampled to the same phases."""
    at = np.arange(len(readings))
    # a window that begins at the template's phase p begins at phase p
    phase = np.maximum.accumulate(np.interp(at, starts, turns) + 1e-9 * at)
    numbers = np.arange(np.ceil(phase[0]), np.floor(phase[-1]))
    wanted = numbers[:, None] + np.arange(_BINS) / _BINS
    place = np.interp(wanted.ravel(), phase, at)
    rows = np.stack([np.interp(place, at, column) for column in readings.T], axis=1)
    whole = np.interp(place, at, seen.astype(float)).reshape(wanted.shape).min(axis=1) > 0.99
    stacked = rows.reshape(*wanted.shape, -1)
    return np.asarray(np.median(stacked[whole] if whole.any() else stacked, axis=0))
