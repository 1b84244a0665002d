"""Groups recorded in a hall by a phone each, whose truth is known: how near each one's bias is, and who is named.

The groups are those of :mod:`tests.generators.hall_group`: music as loud as the claps, phones half a metre to 14 m from
the loudspeaker, clocks 60 ppm apart, one phone 8 s late, everybody in everybody's recording. Seeds from 30,000 on
judge; those below 200 are for tuning, 9,000 to 9,031 were read before the rules for crosstalk were made, and 40,002
before one of those in turn might be less clear.

By default 3 groups a row; ``TEMPO_COACH_HALL_GROUPS=100`` makes the table of which the floors speak, which is hours. In
parts: ``TEMPO_COACH_HALL_ROWS=clap,voice`` (or ``turn``, ``ten``) measures these alone, ``TEMPO_COACH_HALL_SEED``
begins elsewhere, and ``TEMPO_COACH_HALL_FILE`` names a file of JSON lines to which every group is added as it is done:
what stands there is not made again, so that a run may be stopped and go on later, and several may share the file. Every
group is told on stderr as it is done.
"""

from __future__ import annotations

import json
import os
import sys
import tempfile
import time
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

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
ROWS = os.environ.get("TEMPO_COACH_HALL_ROWS", "clap,voice,turn,ten").split(",")
FILE = os.environ.get("TEMPO_COACH_HALL_FILE", "")
#: Seconds around half a step, two SDs of a member, in which nobody can say whether she is late or early.
OPEN = 0.030
#: Seconds within which a member's bias has to be, by kind of sound.
WITHIN = {"clap": 0.005, "voice": 0.015}


class Measured(NamedTuple):
    """One group: each member's error in seconds, and what was said."""

    errors: dict[str, float]
    named: bool = False
    wrong: bool = False
    recorded: bool = True
    is_open: bool = False


def run() -> Iterator[Row]:
    """Yield the rows of the table."""
    for kind in [each for each in WITHIN if each in ROWS]:
        groups = [_measure_once(kind, seed) for seed in range(FIRST, FIRST + GROUPS)]
        errors = [abs(error) for one in groups for error in one.errors.values()]
        late = [one.named for one in groups if one.recorded and not one.is_open]
        within = WITHIN[kind]
        yield Row(f"{kind}: bias within {1000 * within:.0f} ms of the truth", _share(errors, within), aim=1.0)
        yield Row(f"{kind}: bias, median error", 1000 * float(np.median(errors)), "ms")
        yield Row(f"{kind}: bias, worst error", 1000 * max(errors), "ms", aim=1000 * within)
        named = float(np.mean(late)) if late else float("nan")
        yield Row(f"{kind}: the one late eight named, where it was recorded", named, aim=0.95, better="high")
        wrong = float(np.mean([one.wrong for one in groups]))
        yield Row(f"{kind}: anybody else named, or another place", wrong, aim=0.05)
        undecided = float(np.mean([one.is_open for one in groups]))
        yield Row(f"{kind}: late by half a step, which is early by as much", undecided)
    if "turn" in ROWS:
        groups = [_measure_once("turn", seed) for seed in range(FIRST, FIRST + GROUPS)]
        errors = [abs(error) for one in groups for error in one.errors.values()]
        found = float(np.mean([one.named for one in groups]))
        yield Row("claps in turn: found so, in their order", found, better="high")
        yield Row("claps in turn: bias within 5 ms of the truth", _share(errors, WITHIN["clap"]))
        yield Row("claps in turn: bias, worst error", 1000 * max(errors, default=float("nan")), "ms")
    if "ten" in ROWS:
        start = time.perf_counter()
        judge(record_group(FIRST, members=10))
        yield Row("ten members, 27 s each, on this machine as it is", time.perf_counter() - start, "s", aim=20.0)


def _measure_once(row: str, seed: int) -> Measured:
    """Return what a group of a row gives: as the file has it, or measured now and added to it."""
    path = Path(FILE) if FILE else None
    lines = path.read_text(encoding="utf-8").splitlines() if path and path.exists() else []
    for each in map(json.loads, lines):
        if (each["row"], each["seed"]) == (row, seed):
            return Measured(*each["measured"])
    done = measure(row, seed)
    if path:
        with path.open("a", encoding="utf-8") as file:
            file.write(json.dumps({"row": row, "seed": seed, "measured": done}) + "\n")
    worst = max(done.errors, key=lambda member: abs(done.errors[member]), default="nobody")
    said = f"{row} {seed}: {worst} off by {1000 * done.errors.get(worst, float('nan')):+.1f} ms"
    said += f"{', named' if done.named else ', not named' if done.recorded else ''}{', FALSELY' if done.wrong else ''}"
    print(said, file=sys.stderr, flush=True)
    return done


def measure(row: str, seed: int) -> Measured:
    """Judge one group; of a row ``turn`` each claps on one count of each eight alone."""
    if row == "turn":
        group = record_group(seed, late=False, in_turn=True)
        card = judge(group)
        order = "turns" in card.reasons and card.reasons["turns"].args == (tuple(group.recordings), EIGHT)
        return Measured(_errors(group, card), named=order)
    group = record_group(seed, kind=row)
    card = judge(group, kind=row)
    assert group.late is not None
    who, eight, _ = group.late
    right = [one.member == who and one.from_eight <= eight <= one.to_eight for one in card.left]
    # of what her phone was not yet there for nobody can say anything
    recorded = group.begins[who] < (eight - 1) * EIGHT * 60 / group.tempo_bpm
    return Measured(_errors(group, card), any(right), not all(right), bool(recorded), _is_open(group))


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


def _errors(group: HallGroup, card: GroupCard) -> dict[str, float]:
    """Seconds by which each member's bias is off what is true of what was heard of her, eight by eight.

    Who is late by half a step, within ``OPEN`` of it, is early by as much for whoever hears claps alone: she is left
    out, and counted in a row of her own.
    """
    rows = dict(zip(group.recordings, group.asynchronies, strict=True))
    return {
        m.member: float(m.bias - _true_bias(group, card, m.member, rows))
        for m in card.members
        if not (_is_open(group) and group.late is not None and m.member == group.late[0])
    }


def _is_open(group: HallGroup) -> bool:
    return group.late is not None and abs(group.late[2] - 30 / group.tempo_bpm) < OPEN


def _true_bias(group: HallGroup, card: GroupCard, member: str, rows: dict[str, np.ndarray]) -> float:
    first = max(int(np.ceil(group.begins[member] * group.tempo_bpm / 60)) - 1, 0)  # the first one may come early
    heard = {each.eight: each.n for each in card.by_eight if each.member == member}
    true = {
        eight: float(np.nanmean(rows[member][max(first, (eight - 1) * EIGHT) : eight * EIGHT]))
        for eight, n in heard.items()
        if n
    }
    return float(np.average(list(true.values()), weights=[heard[eight] for eight in true]))


def _share(errors: list[float], within: float) -> float:
    return float(np.mean(np.array(errors) <= within))
