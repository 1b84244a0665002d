"""Invented music of 90 s as routines have it: an introduction, a slowing, a pause, a bridge, and a cut."""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from tempo_coach.music.counts.count_map import CountMap
from tests.benchmarks.beat_set.played import DRUMS, Played
from tests.music.small_synth import render_small

if TYPE_CHECKING:
    from tempo_coach.music.files.sound import Sound

#: Root of each bar's chord in semitones over the lowest A, for the first piece and for the one that is cut to it.
CHORDS = ((0, 8, 3, 10), (5, 0, 7, 5))
TUNES = ((12, 15, 19, 15, 17, 15, 12, 10), (17, 21, 24, 21, 19, 17, 16, 12))
#: Seconds before the first beat of the introduction, its beats, and the seconds of the pause.
LEAD, INTRODUCTION, PAUSE = 0.8, 4, 2.6
#: Beats a minute of the two pieces, and of the slowest count before the pause.
FIRST_BPM, SECOND_BPM, SLOWEST_BPM = 112, 138, 84
#: Eights before the pause (the last one slows), behind it, and behind the cut; counts of the bridge before the cut.
EIGHTS, BRIDGE = (6, 5, 9), 4
#: Part of a count that is still heard of the first piece where the second one cuts in.
STUMP = 0.35


class CutMusic(NamedTuple):
    """The sound, its exact counts, and the second at which it is cut."""

    sound: Sound
    counts: CountMap
    cut: float


@cache
def compose() -> CutMusic:
    """Return the piece, always the same."""
    steady = 60 / FIRST_BPM
    before = [steady] * (INTRODUCTION + 8 * (EIGHTS[0] - 1))
    slowing = (60 / np.linspace(FIRST_BPM, SLOWEST_BPM, 8)).tolist()
    behind = [steady] * (8 * EIGHTS[1] + BRIDGE)
    first = LEAD + np.concatenate([[0.0], np.cumsum([*before, *slowing, *behind])])
    paused = len(before) + 8
    pause = float(first[paused])
    first[paused:] += PAUSE
    cut = float(first[-1] + STUMP * steady)
    second = cut + np.arange(8 * EIGHTS[2]) * 60 / SECOND_BPM
    beats = np.concatenate([first, second])
    eights = [(INTRODUCTION + 8 * k, 8) for k in range(EIGHTS[0] + EIGHTS[1])]
    # the stump of a count before the cut is none that is danced
    beats = np.delete(beats, first.size - 1)
    eights.append((eights[-1][0] + 8, BRIDGE))
    eights += [(first.size - 1 + 8 * k, 8) for k in range(EIGHTS[2])]
    counts = CountMap(beats, tuple(eights), ((pause, pause + PAUSE),))
    return CutMusic(render_small(_play(np.append(first, second), first.size, pause, cut)), counts, cut)


def _play(beats: np.ndarray, cut_at: int, pause: float, cut: float) -> Played:
    steps = np.append(np.diff(beats), 60 / SECOND_BPM)
    notes: list[tuple[float, float, int, int, int]] = []
    for k, (time, step) in enumerate(zip(beats.tolist(), steps.tolist(), strict=True)):
        piece = int(k >= cut_at)
        number = k - (cut_at if piece else INTRODUCTION)
        end = pause - 0.05 if time < pause < time + step else time + step
        end = min(end, cut) if time < cut else end
        root = CHORDS[piece][number // 4 % 4]
        notes.append((time, end, 45 + root, 96 if number % 4 == 0 else 60, 0))
        if number % 4 == 0:
            notes += [(time, end, 57 + root + each, 58, 0) for each in (0, 4, 7)]
        notes.append((time, end, 57 + TUNES[piece][number % 8], 72, 1))
        if k >= INTRODUCTION:
            notes.append((time, time + 0.2, 36 if number % 2 == 0 else 42, 84 if number % 4 == 0 else 56, DRUMS))
    return Played(notes, {}, beats, np.zeros(0), [(pause, pause + PAUSE)])
