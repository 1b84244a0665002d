"""Groups recorded in a hall by a phone each, whose truth is known: how near each one's bias is, and who is named.

The groups are those of :mod:`tests.generators.hall_group`: music as loud as the claps, phones half a metre to 14 m from
the loudspeaker, clocks 60 ppm apart, one phone 8 s late, everybody in everybody's recording. Seeds from 30,000 on
judge; those below 200 are for tuning, and 9,000 to 9,031 were read before the rules for crosstalk were made. By default
3 groups a row; ``TEMPO_COACH_HALL_GROUPS=100`` makes the table of which the floors speak, which is hours.
"""

from __future__ import annotations

import os
import tempfile
import time
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import soundfile

from tempo_coach import coach
from tempo_coach.music.counts.count_map import CountMap
from tempo_coach.pattern.plan.every_count import lay_every_count
from tempo_coach.pattern.plan.plan import Music
from tempo_coach.resources import content_hash
from tests.benchmarks.table import Row
from tests.generators.hall_group import COUNTS, EIGHT, RATE_HZ, HallGroup, record_group

if TYPE_CHECKING:
    from collections.abc import Iterator

    from tempo_coach.score.group.card import GroupCard

GROUPS = int(os.environ.get("TEMPO_COACH_HALL_GROUPS", "3"))
FIRST = int(os.environ.get("TEMPO_COACH_HALL_SEED", "30000"))
#: Seconds within which a member's bias has to be, by kind of sound.
WITHIN = {"clap": 0.005, "voice": 0.015}


def run() -> Iterator[Row]:
    """Yield the rows of the table."""
    for kind, within in WITHIN.items():
        errors: list[float] = []
        named = wrong = recorded = 0
        for seed in range(FIRST, FIRST + GROUPS):
            group = record_group(seed, kind=kind)
            card = judge(group, kind=kind)
            rows = dict(zip(group.recordings, group.asynchronies, strict=True))
            errors += [abs(m.bias - _true_bias(group, m.member, rows)) for m in card.members]
            right = [
                one.member == group.late[0] and one.from_eight <= group.late[1] <= one.to_eight for one in card.left
            ]
            # of what her phone was not yet there for nobody can say anything
            recorded += group.begins[group.late[0]] < (group.late[1] - 1) * EIGHT * 60 / group.tempo_bpm
            named += any(right)
            wrong += not all(right)
        yield Row(f"{kind}: bias within {1000 * within:.0f} ms of the truth", _share(errors, within), aim=1.0)
        yield Row(f"{kind}: bias, median error", 1000 * float(np.median(errors)), "ms")
        yield Row(f"{kind}: bias, worst error", 1000 * max(errors), "ms", aim=1000 * within)
        yield Row(f"{kind}: the one late eight named, where it was recorded", named / recorded, aim=0.95, better="high")
        yield Row(f"{kind}: anybody else named, or another place", wrong / GROUPS, aim=0.05)
    yield from measure_in_turn()
    start = time.perf_counter()
    judge(record_group(FIRST, members=10))
    yield Row("ten members, 27 s each, on this machine as it is", time.perf_counter() - start, "s", aim=20.0)


def measure_in_turn() -> Iterator[Row]:
    """Each claps on one count of each eight alone."""
    errors: list[float] = []
    found = 0
    for seed in range(FIRST, FIRST + GROUPS):
        group = record_group(seed, late=False, in_turn=True)
        card = judge(group)
        rows = dict(zip(group.recordings, group.asynchronies, strict=True))
        right = "turns" in card.reasons and card.reasons["turns"].args == (tuple(group.recordings), EIGHT)
        found += right
        if right:
            errors += [abs(m.bias - _true_bias(group, m.member, rows)) for m in card.members]
    yield Row("claps in turn: found so, in their order", found / GROUPS, better="high")
    yield Row("claps in turn: bias within 5 ms of the truth where found", _share(errors, WITHIN["clap"]))
    yield Row("claps in turn: bias, worst error", 1000 * max(errors, default=float("nan")), "ms")


def judge(group: HallGroup, *, kind: str = "clap") -> GroupCard:
    """Judge the files of a group with its counts known."""
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place)
        music = folder / "music.wav"
        soundfile.write(music, group.music, RATE_HZ)
        counts = CountMap(np.arange(COUNTS) * 60 / group.tempo_bpm)
        plan = lay_every_count(counts, end=1.0, music=Music(str(music), content_hash(music)))
        sources = []
        for member, wave in group.recordings.items():
            soundfile.write(folder / f"{member}.wav", wave, RATE_HZ)
            sources.append(f"{member}={folder / member}.wav")
        return coach.judge_members(sources, lay_plan=lambda _: plan, listening=coach.RecordingOptions(kind)).card


def _true_bias(group: HallGroup, member: str, rows: dict[str, np.ndarray]) -> float:
    """Of what was recorded: a phone that began late has not all of it."""
    first = max(int(np.ceil(group.begins[member] * group.tempo_bpm / 60)), 0)
    return float(np.nanmean(rows[member][first:]))


def _share(errors: list[float], within: float) -> float:
    return float(np.mean(np.array(errors) <= within))
