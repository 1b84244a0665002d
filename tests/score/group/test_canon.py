"""A canon that nobody declared: recognised by where a run lies and by its shape, and nothing else taken for one."""

from dataclasses import replace

import numpy as np
import pytest

from tempo_coach import coach
from tempo_coach.music.counts.count_map import CountMap
from tempo_coach.observe.take.onsets import Onsets, Take
from tempo_coach.pattern.plan.every_count import lay_every_count
from tempo_coach.reasons import Reason, Why
from tempo_coach.score.group.canon import find_canon, find_mirrored, shift_take
from tempo_coach.score.group.group import judge_group

COUNTS = lay_every_count(CountMap.steady(120), end=23.9, tempo_bpm=120)
ROPE = coach.lay(coach.Request("rope_figure_eight", tempo_bpm=100, cycles=12))
MILLS = coach.lay(coach.Request("clubs_mills", tempo_bpm=120, cycles=12))
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


def test_the_clock_that_would_put_her_beside_the_others_is_the_canon_in_seconds_though_others_began_unlike():
    takes = group(COUNTS, (0, 0.02, 0, 4.0), keep=slice(0, 32))
    late = takes["Ada"].onsets
    takes["Ada"] = replace(takes["Ada"], onsets=Onsets(late.time[1:], late.hand[1:]))
    takes = {name: replace(takes[name], observed_by="file") for name in ("Ada", "Bea", "Eva")}
    card = judge_group(takes)
    seconds = -0.5 * card.canon["Eva"]
    assert card.reasons["canon of Eva"] == Reason(Why.CANON_OR_CLOCK, ("Eva", pytest.approx(seconds)))


def test_what_was_declared_is_left_as_it_is():
    takes = group(COUNTS, (0, 0, 0, 2.0), keep=slice(0, 32))
    assert find_canon(takes, declared={"Eva": 4.0}) == {}


def test_who_comes_in_late_stops_early_or_is_late_throughout_has_no_part_of_her_own():
    takes = group(COUNTS, (0, 0, 0, 0.19))
    for name, part in (("Ada", slice(8, None)), ("Bea", slice(0, -8))):
        onsets = takes[name].onsets
        takes[name] = Take(COUNTS, Onsets(onsets.time[part], onsets.hand[part]))
    assert find_canon(takes, declared={}) == {}


def with_other_hands(take):
    other = dict(zip(take.plan.hands, take.plan.hands[::-1], strict=True))
    return Take(take.plan, Onsets(take.onsets.time, tuple(other[hand] for hand in take.onsets.hand)))


def test_who_does_with_one_hand_what_the_others_do_with_the_other_is_mirrored_and_judged_so():
    takes = group(MILLS, (0, 0.02, 0, -0.02))
    assert find_mirrored(takes) == frozenset()
    mirrored = {name: with_other_hands(take) if name in ("Bea", "Eva") else take for name, take in takes.items()}
    assert find_mirrored(mirrored) == {"Bea", "Eva"}
    found, asked = judge_group(mirrored), judge_group(takes)
    assert found.reasons["mirrored"].args == (("Bea", "Eva"),) and found.canon == {}
    assert found.width < 0.08  # of clubs half a circle apart it would be half a second
    for mine, other in zip(found.members, asked.members, strict=True):
        assert abs(mine.offset - other.offset) < 0.01


def test_one_count_later_is_a_canon_and_no_mirror_where_both_hands_alternate_by_counts():
    later = group(MILLS, (0, 0, 0, 0.5))
    assert find_mirrored(later) == frozenset() and find_canon(later, declared={}) == {"Eva": 1}
    everybody = {name: with_other_hands(take) for name, take in group(MILLS, (0, 0, 0, 0)).items()}
    assert find_mirrored(everybody) == frozenset()  # nobody has other hands than the others


def test_nobody_is_behind_nobody():
    nothing = Take(COUNTS, Onsets(np.array([]), ()))
    assert find_canon({"Ada": nothing, "Bea": nothing}, declared={}) == {}


def test_moments_go_on_before_and_behind_the_plan_at_its_tempo_there():
    plan = replace(COUNTS, knot_times=np.array([0.0, 4.0, 16.0]), knot_counts=np.array([0.0, 8.0, 32.0]))
    take = Take(plan, Onsets([], ()))
    assert shift_take(take, 0.0) is take
    np.testing.assert_allclose(shift_take(take, -4.0).plan.moments.time[:2], [-2.0, -1.5])
    np.testing.assert_allclose(shift_take(take, 4.0).plan.moments.time[-1], 16 + (51 - 32) / 2)


def test_a_plan_that_begins_within_the_run_does_not_say_by_how_many_counts():
    # eleven counts later, and the plan has none of the first four: seven to eleven leave as few alone
    takes = group(COUNTS, (0, 0.02, 0, 5.5), keep=slice(0, 32))
    plan = lay_every_count(CountMap(np.arange(2.0, 24.0, 0.5)), end=23.4)
    late = {name: replace(take, plan=plan) for name, take in takes.items()}
    assert find_canon(late, declared={}) == {"Eva": 11}
    told = judge_group(late).reasons["canon of Eva"]
    assert told.args[0] == "Eva" and told.args[1] == pytest.approx(-5.5, abs=0.05)
