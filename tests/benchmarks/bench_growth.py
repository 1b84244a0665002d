"""How the time of everything that takes, plans and traces go through grows with their length: four times as long.

Linear growth gives 4, sorting a little more, comparing everything with everything 16.
"""

from __future__ import annotations

import json
import math
import tempfile
import time
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from tempo_coach import coach
from tempo_coach.coach.counting.setting import rows_of
from tempo_coach.music.beats.beat_files import beats_to_text, read_beats
from tempo_coach.music.beats.midi import beats_to_midi
from tempo_coach.music.counts.count_map import CountMap, Position
from tempo_coach.music.counts.edit_place import add_beat
from tempo_coach.observe.sound.detector import find_onsets
from tempo_coach.observe.sound.kinds import make_detector
from tempo_coach.observe.take.onsets import Onsets, Take
from tempo_coach.observe.take.take_file import read_take
from tempo_coach.observe.take.take_writer import TakeWriter
from tempo_coach.observe.trace.tables import read_trace
from tempo_coach.pattern.plan.plan_file import plan_to_dict, read_plan
from tempo_coach.pattern.routine.routine import Laid, MusicFile, Routine
from tempo_coach.report.drawings.unroll import draw_periods, draw_unrolled, periods_svg, unrolled_svg
from tempo_coach.report.pages.group import group_page
from tempo_coach.report.pages.sheet import sheet_page
from tempo_coach.report.pages.take import take_page
from tempo_coach.report.words.card import card_to_dict, format_card
from tempo_coach.report.words.sheet import make_sheet
from tempo_coach.report.words.trace import format_study, study_to_dict
from tempo_coach.score.card import judge
from tempo_coach.score.group.group import judge_group
from tempo_coach.score.group.one_recording import judge_mix
from tempo_coach.score.trace.study import study
from tests.benchmarks.table import Row
from tests.generators import movement

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Mapping

    from tempo_coach.pattern.drill.drill import Drill
    from tempo_coach.pattern.plan.plan import Plan

#: How much longer, and how much more time that may take.
TIMES, MOST = 4, 6.0
#: Cycles of the shorter take, of the shorter sound, and of the shorter trace, and beats of the shorter music.
CYCLES, CUED, CIRCLES, BEATS = 2000, 50, 400, 4000


def run() -> Iterator[Row]:
    """Yield for each piece of work its growth, and its time at the greater length."""
    with tempfile.TemporaryDirectory() as folder:
        for work, size in ((of_takes, CYCLES), (of_cues, CUED), (of_traces, CIRCLES), (of_beats, BEATS)):
            short, long = (work(each, Path(folder)) for each in (size, TIMES * size))
            for what, act in short.items():
                seconds = {each: _time(each) for each in (act, long[what])}
                yield Row(f"{what}: {TIMES} times as long takes", seconds[long[what]] / seconds[act], "times", MOST)
                yield Row(f"{what}: the longer one takes", seconds[long[what]], "s")


def of_takes(cycles: int, folder: Path) -> Mapping[str, Callable[[], object]]:
    """What is done with plans and takes; every 20th circle is late, as a long list of faults is long to tell."""
    plan = coach.lay(coach.Request("clubs_mills", tempo_bpm=100, cycles=cycles))
    take = perform(plan, 1)
    card = judge(take)
    group = {name: perform(plan, seed) for seed, name in enumerate("abcde")}
    several = np.concatenate([one.onsets.time for one in group.values()])
    mixed = Take(plan, Onsets.unsorted(several.tolist(), list(plan.moments.hand) * len(group)))
    told = judge_group(group)
    plan_file, take_file, table = folder / f"{cycles}.json", folder / f"{cycles}.take", folder / f"{cycles}.csv"
    plan_file.write_text(json.dumps(plan_to_dict(plan)), encoding="utf-8")
    onsets = list(zip(take.onsets.time.tolist(), take.onsets.hand, strict=True))
    table.write_text("time,hand\n" + "".join(f"{at},{hand}\n" for at, hand in onsets), encoding="utf-8")
    writer = TakeWriter(take_file, plan, observed_by="tap", begun="2026-01-01T10:00:00")
    for at, hand in onsets:
        writer.onset(hand, stamp=at, time=at)
    writer.finish(onsets, how="passage")
    return {
        "laying a plan": lambda: coach.lay(coach.Request("clubs_mills", tempo_bpm=100, cycles=cycles)),
        "a plan to its file": lambda: json.dumps(plan_to_dict(plan)),
        "a plan from its file": lambda: read_plan(plan_file),
        "a take from its file": lambda: read_take(take_file),
        "judging a table of onsets": lambda: coach.judge_file(table, plan),
        "judging": lambda: judge(take),
        "a scorecard for other programs": lambda: card_to_dict(card),
        "a scorecard in words": lambda: format_card(card),
        "the page of a take": lambda: take_page(card),
        "judging a group": lambda: judge_group(group),
        "judging several in one recording": lambda: judge_mix(mixed),
        "the page of a group": lambda: group_page(told),
    }


def of_cues(cycles: int, _folder: Path) -> Mapping[str, Callable[[], object]]:
    """What is done with sound: a cycle is 1.2 s long."""
    plan = coach.lay(coach.Request("clubs_mills", tempo_bpm=100, cycles=cycles))
    sound = coach.cue_sound(plan)
    return {
        "mixing cues": lambda: coach.cue_sound(plan),
        "hearing contacts": lambda: find_onsets(sound, make_detector("contact")),
    }


def perform(plan: Plan, seed: int) -> Take:
    """Somebody who scatters by 2 hundredths of a second, a third of one late now and then."""
    generator = np.random.default_rng(seed)
    times = plan.moments.time + generator.normal(0, 0.02, len(plan.moments))
    times[::20] += 0.3
    return Take(plan, Onsets.unsorted(times.tolist(), plan.moments.hand))


def of_traces(circles: int, folder: Path) -> Mapping[str, Callable[[], object]]:
    """What is done with a trace of two clubs."""
    trace = movement.mills(1, n=circles).trace
    file = folder / f"{circles}_trace.csv"
    names = ",".join(["time_s", *(channel.name for channel in trace.channels)])
    np.savetxt(file, np.column_stack([trace.time, trace.values]), delimiter=",", header=names, comments="", fmt="%.5f")
    found = study(trace)
    main, uneven = found.main, [flag for _, flag in found.uneven]
    return {
        "a trace from its file": lambda: read_trace(file),
        "studying a trace": lambda: study(trace),
        "a study in words": lambda: (format_study(found, trace), study_to_dict(found, trace)),
        "cycles unrolled in text": lambda: (draw_unrolled(main, uneven), draw_periods(main)),
        "cycles unrolled as pictures": lambda: (unrolled_svg(main, uneven), periods_svg(main)),
    }


def of_beats(beats: int, folder: Path) -> Mapping[str, Callable[[], object]]:
    """What is done with beats once they are found."""
    times = 0.5 * np.arange(beats) + np.random.default_rng(1).normal(0, 0.01, beats)
    bar = np.arange(beats) % 8 + 1
    text, midi = folder / f"{beats}.txt", folder / f"{beats}.mid"
    text.write_text(beats_to_text(times, bar), encoding="utf-8")
    midi.write_bytes(beats_to_midi(times, bar))
    counts = CountMap(times, tuple((first, 8) for first in range(0, beats, 8)))
    routine = Routine("Invented", MusicFile("music.wav"), laid=(Laid("clubs_mills", Position(1, 1), beats // 8),))
    return {
        "beats to text": lambda: beats_to_text(times, bar),
        "beats to a MIDI file": lambda: beats_to_midi(times, bar),
        "beats from text": lambda: read_beats(text),
        "beats from a MIDI file": lambda: read_beats(midi),
        "a correction of counts": lambda: add_beat(counts, float(times[9]) + 0.25),
        "a count sheet": lambda: sheet_page(make_sheet(routine, counts, float(times[-1]) + 1, load)),
        "a routine laid out": lambda: rows_of(counts),
    }


def load(name: str, mirrored: bool) -> Drill:
    """A drill that comes with the program."""
    return coach.load_drill(name, mirrored=mirrored)


def _time(act: Callable[[], object]) -> float:
    """Best of three, and of as many more as take a fifth of a second."""
    best, over = math.inf, time.perf_counter() + 0.2
    tried = 0
    while tried < 3 or time.perf_counter() < over:
        begin = time.perf_counter()
        act()
        best, tried = min(best, time.perf_counter() - begin), tried + 1
    return best
