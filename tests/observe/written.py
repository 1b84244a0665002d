"""Takes written while they run, for tests of the file and of its writer."""

from pathlib import Path

from tempo_coach import coach
from tempo_coach.observe.take.take_writer import TakeWriter

PLAN = coach.lay(coach.Request("clubs_mills", tempo_bpm=120, cycles=8))
PERFECT = list(zip(PLAN.moments.time.tolist(), PLAN.moments.hand, strict=True))


def writer(path: Path) -> TakeWriter:
    return TakeWriter(path, PLAN, observed_by="tap", begun="2031-05-04T18:15:02", player="silent clock")


def write_all(path: Path) -> TakeWriter:
    out = writer(path)
    for at, hand in PERFECT:
        out.onset(hand, stamp=at + 100, time=at + 0.002)
    return out
