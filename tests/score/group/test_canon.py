"""A canon that nobody declared: recognised by where a run lies and by its shape, and nothing else taken for one."""

from dataclasses import replace

import numpy as np
import pytest

from tempo_coach import coach
from tempo_coach.music.counts.count_map import CountMap
from tempo_coach.observe.take.onsets import Onsets, Take
from tempo_coach.pattern.plan.every_count import lay_every_count
from tempo_coach.score.group.canon import find_canon, shift_take

COUNTS = lay_every_count(CountMap.steady(120), end=23.9, tempo_bpm=120)
ROPE = coach.lay(coach.Request("rope_figure_eight", tempo_bpm=100, cycles=12))
NAMES = ("Ada", "Bea", "Cyl", "Eva")  # invented


def group(plan, later, *, keep=slice(None)):
    generator = np.random.default_rng(3)
    takes = {}
    for name, seconds in zip(NAMES, later, strict=True):
        times = (plan.moments.time + seconds + generator.normal(0, 0.012, len(plan.moments)))[keep]
        takes[name] = Take(plan, Onsets.unsorted(times.tolist(), plan.moments.hand[keep]))
    return takes


@pytest.mark.parametrize("counts", [2, 4, 8, -4])
def test_a_run_that_begins_and_ends_as_many_counts_later_is_a_canon(counts):
    takes = group(COUNTS, (0, 0.02, 0, 0.5 * counts), keep=slice(0, 32))
    assert find_canon(takes, declared={}) == {"Eva": counts}


def test_a_movement_with_a_shape_shows_it_in_its_shape_as_well():
    for counts in (1, 2, 3):
        assert find_canon(group(ROPE, (0, 0, 0, counts * 0.6)), declared={}) == {"Eva": counts}


def test_everybody_may_have_a_place_of_her_own():
    takes = group(COUNTS, (0, 1.0, 2.0, 3.0), keep=slice(0, 32))
    assert find_canon(takes, declared={}) == {"Ada": -2, "Cyl": 2, "Eva": 4}


def test_what_was_declared_is_left_as_it_is():
    takes = group(COUNTS, (0, 0, 0, 2.0), keep=slice(0, 32))
    assert find_canon(takes, declared={"Eva": 4.0}) == {}


def test_who_comes_in_late_stops_early_or_is_late_throughout_has_no_part_of_her_own():
    takes = group(COUNTS, (0, 0, 0, 0.19))
    for name, part in (("Ada", slice(8, None)), ("Bea", slice(0, -8))):
        onsets = takes[name].onsets
        takes[name] = Take(COUNTS, Onsets(onsets.time[part], onsets.hand[part]))
    assert find_canon(takes, declared={}) == {}


def test_nobody_is_behind_nobody():
    nothing = Take(COUNTS, Onsets(np.array([]), ()))
    assert find_canon({"Ada": nothing, "Bea": nothing}, declared={}) == {}


def test_moments_go_on_before_and_behind_the_plan_at_its_tempo_there():
    plan = replace(COUNTS, knot_times=np.array([0.0, 4.0, 16.0]), knot_counts=np.array([0.0, 8.0, 32.0]))
    take = Take(plan, Onsets([], ()))
    assert shift_take(take, 0.0) is take
    np.testing.assert_allclose(shift_take(take, -4.0).plan.moments.time[:2], [-2.0, -1.5])
    np.testing.assert_allclose(shift_take(take, 4.0).plan.moments.time[-1], 16 + (51 - 32) / 2)
