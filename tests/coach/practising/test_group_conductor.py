"""A group while it moves: keys of several people, phones of each, what comes later, and a take of everybody."""

from __future__ import annotations

import json
import math
from typing import TYPE_CHECKING

import numpy as np
import pytest

from tempo_coach.coach.practising.group_conductor import GroupConductor
from tempo_coach.coach.practising.sensed import WAITS
from tempo_coach.live.inputs.source import Collected, SourceOnset
from tempo_coach.live.notices import Code
from tempo_coach.live.practice.session import Stage
from tempo_coach.observe.take.take_file import read_take_file
from tests.coach.practising.test_conductor import at_once
from tests.coach.practising.test_sensed import FakeSource
from tests.generators.movement import Phase, sensor
from tests.ui import fakes

if TYPE_CHECKING:
    from pathlib import Path

PLAN = fakes.lay(tempo_bpm=100, cycles=12, hand="right")
NAMES = ("Ada", "Bea", "Cyl")  # invented
LATE = {"Ada": 0.0, "Bea": 0.005, "Cyl": 0.12}


class FakePhones(FakeSource):
    """Phones of a group without a server."""

    half_width = 0.003

    def __init__(self) -> None:
        super().__init__()
        self.half_widths: dict[str, float] = {}
        self.known: dict[str, Collected] | None = None

    def readings_of_members(self):
        fresh, self.fresh = self.fresh, {}
        return fresh

    def half_width_of(self, name):
        return self.half_widths.get(name, self.half_width)

    def collected_of(self, members):
        return self.known


def conduct(folder: Path | None = None, phones: FakePhones | None = None, **options: object):
    stage = fakes.Stage(PLAN, folder=folder, options=options)
    conductor = GroupConductor(stage.context, NAMES, aside=at_once, phones=phones, clock=stage.clock)
    return conductor, stage


def run_through(conductor, stage, phones=None, *, until: float = 60.0) -> dict[str, list[tuple[float, str]]]:
    """Play the passage, each member at her own lateness; return the stamps."""
    conductor.enter(stage.clock())
    conductor.tick()
    zero = stage.clock.now
    onsets = sorted((zero + float(t) + LATE[name], name) for t in PLAN.moments.time for name in NAMES)
    for stamp, name in onsets:
        if stamp - zero > until:
            break
        stage.clock.now = stamp
        if phones is None:
            conductor.press(dict(conductor.session.keys)[name], stamp)
        else:
            phones.news.append(SourceOnset("right", stamp, name))
        conductor.tick()
    return {name: [(stamp, "right") for stamp, whose in onsets if whose == name] for name in NAMES}


def test_keys_of_several_people_are_a_take_each_and_one_card(tmp_path: Path):
    conductor, stage = conduct(tmp_path)
    assert conductor.session.stage is Stage.ASKING and conductor.session.asked_hand == "Ada"
    assert conductor.picture().now == "Ada"
    for key in "aöl":
        conductor.press(key, stage.clock())
    assert conductor.session.keys == (("Ada", "a"), ("Bea", "ö"), ("Cyl", "l"))
    run_through(conductor, stage, until=float(PLAN.moments.time[8]) + 0.06)
    # of three, the middle of the other two lies half way to the late one
    assert {one.member: one.told for one in conductor.standings()} == {"Ada": -1, "Bea": -1, "Cyl": 1}
    files = sorted(tmp_path.iterdir())
    heads = [json.loads(file.read_text(encoding="utf-8").splitlines()[0]) for file in files]
    assert [head["member"] for head in heads] == list(NAMES), "a killed program loses no onset"
    conductor.enter(stage.clock())
    assert conductor.session.stage is Stage.AFTER
    (take,) = conductor.takes
    assert take.error is None and take.judged is not None and take.judged.card.members[2].offset > 0.05
    assert [read_take_file(path).take.observed_by for path in take.paths] == ["tap"] * 3
    assert [len(read_take_file(path).take.onsets) for path in take.paths] == [9, 9, 8], "one had not tapped yet"
    conductor.leave()


def test_what_a_phone_kept_back_is_waited_for_and_judged_again(tmp_path: Path):
    phones = FakePhones()
    conductor, stage = conduct(tmp_path, phones)
    assert conductor.session.stage is Stage.WAITING
    onsets = run_through(conductor, stage, phones)
    stage.clock.now += 5
    conductor.tick()
    assert conductor.session.stage is Stage.JUDGING and len(phones.ended) == 1
    all_of_it = {name: Collected(onsets=mine, half_width=0.003) for name, mine in onsets.items()}
    phones.known = {**all_of_it, "Cyl": Collected(onsets=onsets["Cyl"][:3], half_width=0.003, complete=False)}
    conductor.tick()
    assert conductor.session.stage is Stage.JUDGING
    stage.clock.now += WAITS + 0.1
    conductor.tick()
    assert conductor.session.stage is Stage.AFTER and len(conductor.takes) == 1
    assert [m.n for m in conductor.takes[0].judged.card.members] == [12, 12, 3]
    phones.known = all_of_it
    conductor.tick()
    assert [m.n for m in conductor.takes[0].judged.card.members] == [12, 12, 12]
    assert conductor.session.notice.code is Code.ROWS_CAME
    assert conductor.takes[0].judged.card.reasons["clocks"].args == pytest.approx((3.0,))
    assert [len(read_take_file(path).take.onsets) for path in conductor.takes[0].paths] == [12, 12, 12]
    conductor.leave()
    assert phones.closed


def test_beyond_the_bound_of_their_clocks_nobody_is_called_early_or_late():
    phones = FakePhones()
    phones.half_width = 0.012
    conductor, stage = conduct(None, phones)
    onsets = run_through(conductor, stage, phones, until=float(PLAN.moments.time[9]))
    assert all(one.told == 0 for one in conductor.standings())
    phones.known = {name: Collected(onsets=mine, half_width=0.012) for name, mine in onsets.items()}
    conductor.enter(stage.clock())
    conductor.tick()
    card = conductor.takes[0].judged.card
    assert "clocks" in card.reasons and all(m.sure == 0 for m in card.members)


def test_one_phone_whose_clock_is_unknown_hides_that_member_alone():
    phones = FakePhones()
    phones.half_widths = {"Bea": math.inf}
    conductor, stage = conduct(None, phones)
    run_through(conductor, stage, phones, until=float(PLAN.moments.time[9]))
    found = {one.member: one for one in conductor.standings()}
    assert math.isnan(found["Bea"].offset) and found["Cyl"].told == 1
    assert found["Cyl"].offset == pytest.approx(LATE["Cyl"] - LATE["Ada"], abs=0.01)


def test_of_worn_phones_who_became_late_is_told_while_it_moves():
    phones = FakePhones()
    conductor, stage = conduct(None, phones)
    conductor.enter(stage.clock())
    conductor.tick()
    zero, anchors = stage.clock.now, PLAN.moments.time
    time = np.arange(0.0, anchors[11] + 0.7, 1 / 60)
    moved = {name: 0.15 * (name == "Cyl") * (np.arange(len(anchors)) >= 3) for name in NAMES}
    rows = {
        name: np.column_stack([time + zero, np.asarray(sensor(k, Phase(anchors + moved[name]), time).values)]).tolist()
        for k, name in enumerate(NAMES)
    }
    for k, stamp in enumerate((time + zero).tolist()):
        stage.clock.now = stamp
        for name in NAMES:
            phones.fresh.setdefault((name, "right"), []).append(rows[name][k])
        if k % 12 == 0:
            conductor.tick()
    told = {one.member: one for one in conductor.standings()}
    assert told["Cyl"].told == 1 and told["Cyl"].offset == pytest.approx(0.15, abs=0.03)


def test_a_group_in_which_nobody_did_anything_is_told_and_another_take_follows():
    conductor, stage = conduct(None, None, keys="abc")
    conductor.enter(stage.clock())
    conductor.tick()
    stage.clock.now += 3
    conductor.enter(stage.clock())
    assert conductor.session.stage is Stage.AFTER and conductor.takes[0].error is not None
    stage.clock.now += 3
    run_through(conductor, stage)
    stage.clock.now += 5
    conductor.tick()
    assert conductor.takes[1].judged is not None
