"""The finder on music whose beats are known, by kind, the worst first: ``python -m tests.benchmarks.beat_set WHICH``.

WHICH is ``set`` (the development set, without the network as well), ``developing`` or ``judging`` (further kinds, three
pieces each, played by a font that no training has heard), ``levels`` (how many whose level is wrong are told so, of
grooves whose level is easily missed), ``hints`` (how many right and wrong hints are told to be hardly heard), or a
sound font that plays the development set instead of the usual one.
"""

from __future__ import annotations

import os
import sys
import tempfile
import time
import warnings
from pathlib import Path
from typing import TYPE_CHECKING

import mir_eval
import numpy as np

from tempo_coach.errors import CoachError
from tempo_coach.music.beats.finder import find_beats
from tempo_coach.music.beats.tempo import HINTS_BPM
from tempo_coach.music.counts.count_map import CountMap
from tempo_coach.music.files.sound_file import read_sound
from tempo_coach.reasons import Why
from tests.benchmarks.beat_set import levels, pieces, rendered
from tests.benchmarks.beat_set.judged import judge_beats

if TYPE_CHECKING:
    from collections.abc import Sequence

#: Octaves within which two levels are one.
SAME_LEVEL = 0.12
SHOWN = ("F", "with hint", "CMLt", "AMLt", "tempo 4 %", "error", "bias", "invented", "ones F", "eights F", "seconds")


def judge_piece(piece: rendered.Piece, *, use_network: bool, seed: int = 0) -> dict[str, float]:
    """Return the measures of one piece; those that nobody knows are nan."""
    sound = read_sound(piece.sound)
    trim = mir_eval.beat.trim_beats
    nothing = np.zeros(0)
    start = time.process_time()
    try:
        found = find_beats(sound, use_network=use_network)
        counts = CountMap.from_beats(found)
        times, ones = found.times, found.times[found.bar == 1]
        eights = np.array([found.times[k] for k, _ in counts.eights if 0 <= k < len(found.times)])
    except CoachError:
        times = ones = eights = nothing
    spent = time.process_time() - start
    hint = 60 / np.median(np.diff(piece.beats)) * np.random.default_rng(seed).uniform(0.94, 1.06)
    try:
        hinted = find_beats(sound, use_network=use_network, tempo_bpm=float(hint)).times
    except CoachError:
        hinted = nothing

    def match(true: np.ndarray, found: np.ndarray) -> float:
        return float(mir_eval.beat.f_measure(trim(true), trim(found))) if len(true) else np.nan

    return {
        **judge_beats(times, piece.beats, piece.pauses),
        "with hint": match(piece.beats, hinted),
        "ones F": match(piece.ones, ones),
        "eights F": match(piece.eights, eights),
        "seconds": spent * 90 / sound.duration,
    }


def judge(which: str = "set") -> None:
    """Print the table: by kind, the worst first, then over all; seconds are CPU for 90 s of music."""
    warnings.simplefilter("ignore")
    if which in ("developing", "judging"):
        known = pieces.make_kinds(pieces.DEVELOPING if which == "developing" else pieces.JUDGING)
    else:
        if which != "set":
            rendered.FONTS[:] = [Path(which)]
            os.environ["BEAT_SET_CACHE"] = str(Path(tempfile.gettempdir()) / f"beat_set_{Path(which).stem}")
        known = pieces.make_set()
    print(f"{'':10}{'':9}" + "".join(f"{name:>11}" for name in SHOWN))
    for use_network in (False, True) if which == "set" else (True,):
        rows = [judge_piece(piece, use_network=use_network, seed=seed) for seed, piece in enumerate(known)]
        table = {}
        for kind in [*dict.fromkeys(piece.kind for piece in known), "all"]:
            some = [row for row, p in zip(rows, known, strict=True) if kind in ("all", p.kind)]
            table[kind] = [np.nanmean([row[name] for row in some]) for name in SHOWN]
        for kind in sorted(table, key=lambda each: (each == "all", table[each][0])):
            label = "network" if use_network else "without"
            print(f"{kind:10}{label:9}" + "".join(f"{value:>11.3f}" for value in table[kind]), flush=True)


def judge_levels(seeds: Sequence[int] = (21, 22)) -> None:
    """Print which pieces go at another level than is counted, and of which it is told."""
    told: dict[bool, list[bool]] = {True: [], False: []}
    for piece in levels.make_levels(seeds):
        found = find_beats(read_sound(piece.sound))
        true = np.interp(found.times[:-1], piece.beats[:-1], np.diff(piece.beats))
        off = float(np.log2(np.median(true / np.diff(found.times))))
        says = [doubt.reason.args[0] for doubt in found.doubtful if doubt.reason.code is Why.TWO_LEVELS]
        told[abs(off) > SAME_LEVEL].append(
            any(abs(np.log2(each) + off) < SAME_LEVEL or abs(off) < SAME_LEVEL for each in says)
        )
        print(f"{piece.name:36} {2**off:6.2f} times the tempo, told {says}", flush=True)
    for wrong, each in told.items():
        print(f"{'wrong' if wrong else 'right'} level: {sum(each)} of {len(each)} told")


#: How many times the true tempo a hint is: a right one within 6 %, and wrong ones that beats may be made to follow.
RIGHT, WRONG = (0.94, 1.0, 1.06), (0.67, 0.75, 1.33, 1.5)


def judge_hints(seed: int = 71) -> None:
    """Print how many right hints are told to be hardly heard, and how many of the wrong ones that are followed.

    Nothing was chosen on pieces of this seed.
    """
    told: dict[bool, list[bool]] = {True: [], False: []}
    for piece in pieces.make_kinds(seed, each=1):
        sound, true = read_sound(piece.sound), 60 / float(np.median(np.diff(piece.beats)))
        possible = [times for times in (*RIGHT, *WRONG) if HINTS_BPM[0] <= times * true <= HINTS_BPM[-1]]
        for times in possible:
            problems: list[CoachError] = []
            try:
                found_bpm = 60 / np.median(
                    np.diff(find_beats(sound, tempo_bpm=times * true, warn=problems.append).times)
                )
            except CoachError as error:
                problems, found_bpm = [error], np.nan
            follows = abs(np.log2(found_bpm / (times * true))) < SAME_LEVEL
            if follows or times in RIGHT:
                told[times in RIGHT].append(any(each.code == "tempo.hardly_heard" for each in problems))
            end, codes = "followed" if follows else "left", [each.code for each in problems]
            print(f"{piece.name:24} {times:5.2f} times the tempo, {end}, {codes}", flush=True)
    for right, each in told.items():
        print(f"{'right' if right else 'wrong and followed'}: {sum(each)} of {len(each)} told to be hardly heard")


if sys.argv[1:] == ["levels"]:
    judge_levels()
elif sys.argv[1:] == ["hints"]:
    judge_hints()
else:
    judge(*sys.argv[1:])
