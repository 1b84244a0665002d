"""The four ways in which the pull of a boomerang can be wrong, from contacts of the stick and taps."""

from dataclasses import replace

import numpy as np
import pytest

from tempo_coach.coach import load_drill
from tempo_coach.music.counts.count_map import CountMap
from tempo_coach.observe.take.onsets import Onsets, Take
from tempo_coach.pattern.plan.layout import lay_out
from tempo_coach.report.words.flights import say_pull
from tempo_coach.score.card import judge
from tempo_coach.score.trace.boomerang import has_boomerangs, judge_boomerangs

BEAT = 0.6


def plan_for(drill="ribbon_boomerang", cycles=6):
    return lay_out(load_drill(drill), CountMap.steady(60 / BEAT), tempo_bpm=60 / BEAT, cycles=cycles)


def shifted(plan, changes):
    """Asynchronies of 0 but for (cycle, kind): counts."""
    off = np.zeros(len(plan.moments))
    for k, (cycle, kind) in enumerate(zip(plan.moments.cycle, plan.moments.kind, strict=True)):
        off[k] = changes.get((int(cycle), kind), 0.0) * BEAT
    return off


def test_each_way_of_being_wrong_is_told_apart():
    plan = plan_for()
    off = shifted(
        plan,
        {
            (1, "pull"): -0.7,  # 0.2 counts before the floor
            (2, "pull"): 0.6,  # 1.1 counts after it
            (3, "pull"): 0.6,  # late by the count, but so is the floor
            (3, "contact"): 0.4,
            (4, "pull"): np.nan,
            (5, "contact"): np.nan,
        },
    )
    told = judge_boomerangs(plan, off)
    assert [each.pull for each in told] == [
        "in time",
        "too early",
        "too long on the floor",
        "too late",
        "not seen",
        "not seen",
    ]
    assert [each.cycle for each in told] == list(range(6))
    assert told[0].lie == pytest.approx(0.5)
    assert told[1].lie == pytest.approx(-0.2)
    assert told[2].lie == pytest.approx(1.1)
    assert told[3].off == pytest.approx(0.6)
    assert "wait for the floor" in say_pull(told[1])


def test_the_windows_are_arguments():
    plan = plan_for(cycles=1)
    off = shifted(plan, {(0, "pull"): 0.3})
    assert judge_boomerangs(plan, off)[0].pull == "in time"
    assert judge_boomerangs(plan, off, longest_lie=0.7)[0].pull == "too long on the floor"
    assert judge_boomerangs(plan, off, latest_pull=0.2)[0].pull == "too late"


def test_a_pull_before_the_floor_is_told_from_a_take():
    # contacts of the stick and taps of the hand, as observed; one pull 0.15 s before the stick is down
    plan = plan_for()
    time = plan.moments.time.copy()
    for k, (cycle, kind) in enumerate(zip(plan.moments.cycle, plan.moments.kind, strict=True)):
        if cycle == 3 and kind in ("pull", "contact"):
            time[k] += -0.20 if kind == "pull" else 0.25
    card = judge(Take(plan, Onsets.unsorted(time, plan.moments.hand), observed_by="contact"))
    told = judge_boomerangs(plan, card.asynchrony)
    assert [each.pull for each in told] == ["in time"] * 3 + ["too early"] + ["in time"] * 2
    assert told[3].lie * BEAT == pytest.approx(-0.15, abs=1e-6)


def test_another_drill_has_no_boomerang():
    plan = plan_for("rope_figure_eight")
    with pytest.raises(ValueError, match="a contact and a pull"):
        judge_boomerangs(plan, np.zeros(len(plan.moments)))
    with pytest.raises(ValueError, match="asynchronies"):
        judge_boomerangs(plan_for(), np.zeros(3))


@pytest.mark.parametrize(
    ("contact", "pull", "told"),
    [
        (0.5, 0, "too early"),
        (0.375, 0, "in time"),
        (0, 0.25, "in time"),
        (0, 0.375, "too long on the floor"),
        (0.5, 0.5, "in time"),
        (0.5, 0.625, "too late"),
    ],
)
def test_at_the_edges_of_the_windows(contact, pull, told):
    # two counts a second and the pull half a count behind the floor: exact in binary
    plan = lay_out(load_drill("ribbon_boomerang"), CountMap.steady(120), tempo_bpm=120, cycles=1)
    off = shifted(plan, {(0, "contact"): contact, (0, "pull"): pull}) / BEAT * 0.5
    (one,) = judge_boomerangs(plan, off, longest_lie=0.75)
    assert (one.pull, one.lie, one.off) == (told, 0.5 + pull - contact, pull)


def test_which_drills_have_boomerangs():
    assert has_boomerangs(plan_for())
    assert not has_boomerangs(plan_for("rope_figure_eight"))
    plan = plan_for(cycles=2)
    for kind in ("contact", "pull"):
        # a cycle that lost one of the two
        kinds = [
            "circle" if one == kind and cycle else one
            for one, cycle in zip(plan.moments.kind, plan.moments.cycle, strict=True)
        ]
        assert not has_boomerangs(replace(plan, moments=replace(plan.moments, kind=tuple(kinds))))
