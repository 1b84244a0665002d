"""A take that a source observed: rows awaited and late, readings followed, and bounds that are too wide."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import pytest

from tempo_coach.coach.practising.conductor import Conductor
from tempo_coach.coach.practising.movement import Movement
from tempo_coach.coach.practising.sensed import AWAITED, WAITS, beats_of, judge_sensed, put_on_take_clock
from tempo_coach.errors import CoachError
from tempo_coach.live.inputs.source import Collected, Remote, SourceOnset
from tempo_coach.live.notices import Code
from tempo_coach.live.practice.session import Stage
from tempo_coach.observe.take.take_file import read_take_file
from tests.coach.practising.test_conductor import PLAN, at_once
from tests.generators.movement import Phase, sensor
from tests.ui import fakes

if TYPE_CHECKING:
    from pathlib import Path


class FakeSource:
    """A source that says what a test puts into it."""

    observed_by = "phone"
    note = ""

    def __init__(self) -> None:
        self.news: list[object] = []
        self.fresh: dict[str, list[list[float]]] = {}
        self.found: Collected | None = None
        self.begun: list[float] = []
        self.ended: list[float] = []
        self.shown: dict[str, object] = {}
        self.closed = False

    def poll(self) -> list[object]:
        news, self.news = self.news, []
        return news

    def readings(self) -> dict[str, list[list[float]]]:
        fresh, self.fresh = self.fresh, {}
        return fresh

    def show(self, values) -> None:
        self.shown = dict(values)

    def begin(self, plan, zero, beats=()) -> None:
        self.begun.append(zero)
        self.beats = beats

    def end(self, stamp) -> None:
        self.ended.append(stamp)

    def collected(self) -> Collected | None:
        return self.found

    def close(self) -> None:
        self.closed = True


def conduct(folder: Path | None = None, **options: object) -> tuple[Conductor, fakes.Stage, FakeSource]:
    source = FakeSource()
    stage = fakes.Stage(PLAN, folder=folder, options={"source": source, "at_once": True, **options})
    return Conductor(stage.context, aside=at_once, clock=stage.clock), stage, source


def run_through(conductor: Conductor, stage: fakes.Stage, source: FakeSource, *, late: float = 0.02) -> list:
    """Play the passage, each moment's tap coming a while later; return all of them."""
    conductor.tick()
    zero = stage.clock.now
    onsets = [(zero + float(t) + late, h) for t, h in zip(PLAN.moments.time, PLAN.moments.hand, strict=True)]
    for stamp, hand in onsets:
        stage.clock.now = stamp + 0.05
        source.news.append(SourceOnset(hand, stamp))
        conductor.tick()
    stage.clock.now = zero + 60
    conductor.tick()
    return onsets


def test_a_take_of_taps_from_a_source_is_judged_once_they_are_all_there(tmp_path: Path):
    conductor, stage, source = conduct(tmp_path)
    onsets = run_through(conductor, stage, source)
    assert source.begun == [100.0] and len(source.ended) == 1 and conductor.session.stage is Stage.JUDGING
    assert len(conductor.session.onsets) == len(onsets)
    source.found = Collected(onsets=onsets, half_width=0.002, noise_floor_ms=4.8)
    conductor.tick()
    (done,) = conductor.takes.done
    assert conductor.session.stage is Stage.AFTER and done.card.value("bias_ms") == pytest.approx(20, abs=0.1)
    file = read_take_file(tmp_path / "1.take.jsonl")
    assert file.ended == "passage" and file.take.observed_by == "phone" and file.take.noise_floor_ms == 4.8
    assert len(file.take.onsets) == len(onsets)


def test_what_comes_later_is_added_and_the_take_judged_again(tmp_path: Path):
    kept = []
    conductor, stage, source = conduct(tmp_path, keep=lambda done, how: kept.append(done))
    onsets = run_through(conductor, stage, source)
    source.found = Collected(onsets=onsets[:10], complete=False)
    conductor.tick()
    assert conductor.session.stage is Stage.JUDGING
    stage.clock.now += WAITS + 0.1
    conductor.tick()
    assert conductor.session.stage is Stage.AFTER and len(conductor.takes.done[-1].take.onsets) == 10
    assert AWAITED in conductor.takes.done[-1].told and not kept
    source.found = Collected(onsets=onsets, complete=True)
    conductor.tick()
    (done,) = conductor.takes.done
    assert len(done.take.onsets) == len(onsets) and conductor.session.notice.code is Code.ROWS_CAME
    assert len(kept) == 1 and conductor.takes.paths == [tmp_path / "1.take.jsonl"]
    assert len(read_take_file(tmp_path / "1.take.jsonl").take.onsets) == len(onsets)


def test_whoever_goes_on_or_leaves_keeps_what_had_come(tmp_path: Path):
    conductor, stage, source = conduct(tmp_path)
    onsets = run_through(conductor, stage, source)
    source.found = Collected(onsets=onsets[:10], complete=False)
    stage.clock.now += WAITS + 0.1
    conductor.tick()
    conductor.leave()
    assert source.closed and len(read_take_file(tmp_path / "1.take.jsonl").take.onsets) == 10
    assert read_take_file(tmp_path / "1.take.jsonl").ended == "passage"
    assert conductor.takes.paths == [tmp_path / "1.take.jsonl"]


def test_who_leaves_before_anything_was_judged_loses_nothing(tmp_path: Path):
    conductor, stage, source = conduct(tmp_path)
    source.found = Collected(onsets=run_through(conductor, stage, source), complete=False)
    conductor.leave()
    assert len(read_take_file(tmp_path / "1.take.jsonl").take.onsets) == len(source.found.onsets)


def test_the_remote_starts_and_ends_a_take():
    conductor, stage, source = conduct(at_once=False)
    assert conductor.session.stage is Stage.WAITING
    source.news.append(Remote.END)
    conductor.tick()
    assert conductor.session.stage is Stage.WAITING
    source.news.append(Remote.START)
    for _ in range(2):
        conductor.tick()
    assert conductor.session.stage is Stage.PLAYING and source.shown["playing"]
    stage.clock.now += 5
    source.news.append(Remote.END)
    conductor.tick()
    assert conductor.session.stage is Stage.JUDGING


def test_the_counts_that_a_display_shows():
    beats = beats_of(PLAN, Movement(PLAN))
    lead = [beat for beat in beats if beat[2] == 0]
    assert [beat[1] for beat in beats if beat[2] == 1] == list("12345678") and lead
    assert np.diff([beat[0] for beat in beats]) == pytest.approx(0.5)


def collected(late: float = 0.02, **values: object) -> Collected:
    onsets = [(float(t) + late, h) for t, h in zip(PLAN.moments.time, PLAN.moments.hand, strict=True)]
    return Collected(onsets=onsets, **values)


def judge(found: Collected, **values: object):
    placed = put_on_take_clock(found, lambda stamp: stamp)
    return judge_sensed(found, placed, PLAN, observed_by="phone", stopped=None, **values)


def test_beyond_its_bound_nothing_is_told_of_early_and_late():
    assert judge(collected(half_width=0.014)).card.value("bias_ms") == pytest.approx(20, abs=0.1)
    wide = judge(collected(half_width=0.016))
    assert not wide.placed and np.isnan(wide.card.value("bias_ms")) and len(wide.card.cycles)


def test_taps_in_a_gap_are_not_scored():
    gap = (2.0, 6.0)
    done = judge(collected(gaps=[gap]))
    assert done.take.unmeasurable == (gap,) and "unmeasurable" in done.card.notes


def test_readings_of_a_forearm_that_turns_are_followed():
    from tempo_coach import coach

    plan = coach.lay(coach.Request("clubs_mills", tempo_bpm=100, cycles=12, hand="right"))
    asked = plan.moments.time
    at = np.arange(0, plan.duration, 1 / 60)
    turns = np.interp(at, asked, np.arange(len(asked)), left=np.nan, right=np.nan)
    turns = np.where(at < asked[0], (at - asked[0]) / np.diff(asked)[0], turns)
    turns = np.where(np.isnan(turns), len(asked) - 1 + (at - asked[-1]) / np.diff(asked)[-1], turns)
    angle = 2 * np.pi * (turns - 0.02 * np.exp(-(((at - asked[6]) / 0.2) ** 2)))
    rate = np.gradient(angle, at)
    gravity = 9.81 * np.stack([np.sin(angle), np.cos(angle), 0 * at], axis=1)
    pull = 0.25 * rate[:, None] ** 2 * np.array([0.0, 1.0, 0.0])
    rows = np.column_stack([at, gravity + pull, 0 * at, 0 * at, rate])
    found = Collected(readings={"right": rows.tolist()}, noise_floor_ms=4.8)
    placed = put_on_take_clock(found, lambda stamp: stamp)
    done = judge_sensed(found, placed, plan, observed_by="worn phone", stopped=None)
    assert done.take.observed_by == "worn phone" and done.take.noise_floor_ms == 4.8
    assert abs(len(done.take.onsets) - len(asked)) <= 2
    assert done.card.value("period_ratio_mean") == pytest.approx(1.0, abs=0.01)


def test_readings_in_which_nothing_repeats_are_said_and_the_take_is_there():
    rng = np.random.default_rng(1)
    rows = np.column_stack([np.arange(0, 20, 1 / 60), rng.standard_normal((1200, 6)) * 0.01])
    found = Collected(readings={"right": rows.tolist()})
    placed = put_on_take_clock(found, lambda stamp: stamp)
    done = judge_sensed(found, placed, replace(PLAN), observed_by="worn phone", stopped=None)
    assert done.told and not len(done.take.onsets)


@pytest.mark.parametrize("begun", [100.0, 0.0])
def test_why_nothing_could_be_followed_is_still_told_once_the_take_is_written(begun: float, tmp_path: Path):
    """Readings that lie outside the take altogether are none."""
    conductor, stage, source = conduct(tmp_path)
    run_through(conductor, stage, source)
    noise = np.random.default_rng(1).standard_normal((1200, 6)) * 0.01
    still = np.column_stack([np.arange(begun, begun + 20, 1 / 60)[:1200], noise])
    source.found = Collected(readings={"right": still.tolist()})
    conductor.tick()
    (done,) = conductor.takes.done
    assert done.path == tmp_path / "1.take.jsonl" and not len(done.take.onsets)
    assert [isinstance(each, CoachError) for each in done.told] == [True] * (begun > 0)


def test_what_is_worn_has_its_last_word_within_a_cycle():
    plan = fakes.lay(tempo_bpm=100, cycles=16, hand="right")
    source = FakeSource()
    stage = fakes.Stage(plan, options={"source": source, "at_once": True})
    conductor = Conductor(stage.context, aside=at_once, clock=stage.clock)
    conductor.tick()
    zero, anchors = stage.clock.now, plan.moments.time
    moved = np.where(np.arange(len(anchors)) == 9, 0.2, 0.0)
    time = np.arange(0.0, anchors[12], 1 / 60)
    values = np.asarray(sensor(1, Phase(anchors + moved), time).values)
    told = {}
    for row in np.column_stack([time + zero, values]).tolist():
        stage.clock.now = row[0]
        source.fresh.setdefault("right", []).append(row)
        conductor.tick()
        told[row[0] - zero] = conductor.picture().word
    late = [at for at, word in told.items() if word == "late"]
    assert anchors[9] < min(late) < anchors[11], "at the latest while the next one runs"
    assert not any(word == "late" for at, word in told.items() if at < anchors[9])
