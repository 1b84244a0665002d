"""The finder with and without the network on the development set: ``python -m tests.benchmarks.beat_set [FONT]``.

A font that is named plays the set instead of the usual one: one that the network was never trained on.
"""

from __future__ import annotations

import os
import sys
import tempfile
import time
import warnings
from pathlib import Path

import mir_eval
import numpy as np

from tempo_coach.errors import CoachError
from tempo_coach.music.beats.finder import find_beats
from tempo_coach.music.files.sound_file import read_sound
from tests.benchmarks.beat_set import pieces, rendered
from tests.benchmarks.beat_set.judged import judge_beats

SHOWN = ("F", "CMLt", "AMLt", "tempo 4 %", "error", "bias", "invented", "ones F", "seconds")


def judge_piece(piece: rendered.Piece, *, use_network: bool) -> dict[str, float]:
    """Return the measures of one piece."""
    sound = read_sound(piece.sound)
    start = time.process_time()
    try:
        found = find_beats(sound, use_network=use_network)
        times, ones = found.times, found.times[found.bar == 1]
    except CoachError:
        times = ones = np.zeros(0)
    spent = time.process_time() - start
    measures = judge_beats(times, piece.beats, piece.pauses)
    trim = mir_eval.beat.trim_beats
    return {
        **measures,
        "ones F": float(mir_eval.beat.f_measure(trim(piece.ones), trim(ones))),
        "seconds": spent * 90 / sound.duration,
    }


def judge(font: str = "") -> None:
    """Print the table: by kind, then over all, without the network and with it; seconds are CPU for 90 s of music."""
    warnings.simplefilter("ignore")
    if font:
        rendered.FONTS[:] = [Path(font)]
        os.environ["BEAT_SET_CACHE"] = str(Path(tempfile.gettempdir()) / f"beat_set_{Path(font).stem}")
    known = pieces.make_set()
    kinds = [*dict.fromkeys(piece.kind for piece in known), "all"]
    print(f"{'':10}{'':9}" + "".join(f"{name:>14}" for name in SHOWN))
    for use_network in (False, True):
        rows = [judge_piece(piece, use_network=use_network) for piece in known]
        for kind in kinds:
            some = [row for row, p in zip(rows, known, strict=True) if kind in ("all", p.kind)]
            values = [np.nanmean([row[name] for row in some] or [np.nan]) for name in SHOWN]
            label = "network" if use_network else "without"
            print(f"{kind:10}{label:9}" + "".join(f"{value:>14.3f}" for value in values), flush=True)


judge(*sys.argv[1:])
