"""A group without music: put on the plan by its own beat, whatever its recorder's clock and its tempo."""

import numpy as np
import pytest

from tempo_coach.music.counts.count_map import CountMap
from tempo_coach.observe.take.onsets import Onsets, Take
from tempo_coach.pattern.plan.every_count import lay_every_count
from tempo_coach.score.group.own_beat import set_on_own_beat

PLAN = lay_every_count(CountMap.steady(120), end=31.9, tempo_bpm=120)


def group(later, *, step=0.5, start=12.3, noise=0.0, n=48, plan=PLAN):
    generator = np.random.default_rng(2)
    return {
        f"member {k}": Take(
            plan,
            Onsets.unsorted((start + off + step * np.arange(n) + generator.normal(0, noise, n)).tolist(), ["body"] * n),
        )
        for k, off in enumerate(later)
    }


@pytest.mark.parametrize("start", [0.0, 12.3, 1.8e9, -40.0])
def test_the_first_beat_is_count_one_and_the_members_lie_around_it(start):
    set_on = set_on_own_beat(group((0.0, 0.03, -0.03), start=start))
    first = [take.onsets.time[0] - PLAN.moments.time[0] for take in set_on.values()]
    assert first == pytest.approx([0.0, 0.03, -0.03], abs=1e-5)


@pytest.mark.parametrize("step", [0.5, 0.485, 0.52])
def test_a_group_that_keeps_another_tempo_is_on_it_to_its_end(step):
    for noise, within in ((0.0, 1e-4), (0.015, 0.02)):
        for take in set_on_own_beat(group((0.0, 0.02, -0.02, 0.0), step=step, noise=noise)).values():
            off = take.onsets.time - take.plan.moments.time[:48]
            assert abs(np.polyfit(np.arange(48), off, 1)[0] * 47) < within
        assert take.plan.tempo_bpm == pytest.approx(60 / step, rel=0.001)


def test_a_noise_before_they_began_is_not_their_first_beat():
    takes = group((0.0, 0.0, 0.0))
    one = takes["member 1"].onsets
    takes["member 1"] = Take(PLAN, Onsets(np.append(one.time[0] - 5.2, one.time), ("body", *one.hand)))
    set_on = set_on_own_beat(takes)
    assert set_on["member 0"].onsets.time[0] == pytest.approx(0.0, abs=0.005)


def test_one_whose_clock_is_hours_off_moves_nobody():
    takes = group((0.0, 0.0, 0.0))
    one = takes["member 0"].onsets
    takes["member 0"] = Take(PLAN, Onsets(one.time - 7200, one.hand))
    set_on = set_on_own_beat(takes)
    assert [set_on[f"member {k}"].onsets.time[0] for k in (1, 2)] == pytest.approx([0.0, 0.0], abs=1e-5)


def test_nobody_is_left_as_nobody():
    nothing = {"Ada": Take(PLAN, Onsets(np.array([]), ())), "Bea": Take(PLAN, Onsets(np.array([]), ()))}
    assert set_on_own_beat(nothing).keys() == nothing.keys()
