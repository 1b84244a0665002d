"""What others did in a member's own recording: left to them, whether they act together or in turn."""

from __future__ import annotations

import numpy as np
import pytest

from tempo_coach.music.counts.count_map import CountMap
from tempo_coach.observe.take.onsets import Onsets, Take
from tempo_coach.pattern.plan.every_count import lay_every_count
from tempo_coach.score.group.crosstalk import leave_to_others

PLAN = lay_every_count(CountMap.steady(120), end=24, tempo_bpm=120)
COUNTS = PLAN.moments.time
NAMES = ("Ada", "Bea", "Cyl", "Dora", "Eva")  # invented


def take(times):
    return Take(PLAN, Onsets(np.asarray(times), ("body",) * len(times)))


def record(own, *, beside=0.5, later=0.03, seed=5):
    """Of each member's counts the take and the loudness in her recorder, which hears all others half as loud."""
    rng = np.random.default_rng(seed)
    takes, loudness = {}, {}
    for j, name in enumerate(NAMES):
        heard = {float(COUNTS[k]): rng.uniform(0.7, 1.3) for k in own(j)}
        for other in set(range(len(NAMES))) - {j}:
            for k in own(other):
                heard.setdefault(float(COUNTS[k]) + later, beside * rng.uniform(0.7, 1.3))
        times = sorted(heard)
        takes[name], loudness[name] = take(times), np.array([heard[t] for t in times])
    return takes, loudness


@pytest.mark.parametrize("moments", [5, 8])
def test_in_turn_each_keeps_what_is_loudest_in_her_recorder(moments):
    takes, loudness = record(lambda j: range(j, len(COUNTS), moments))
    kept = leave_to_others(takes, loudness)
    for j, name in enumerate(NAMES):
        np.testing.assert_allclose(kept[name].onsets.time, COUNTS[j::moments])


def test_one_may_hear_another_nearly_as_loud_as_herself_and_have_begun_late():
    takes, loudness = record(lambda j: range(j, len(COUNTS), 8))
    times = takes["Ada"].onsets.time
    late = times > times[-1] / 3
    loudness["Ada"] = np.where(np.isin(times, COUNTS[::8]), loudness["Ada"], 0.75)[late]
    takes["Ada"] = take(times[late])
    kept = leave_to_others(takes, loudness)
    assert all(np.isin(kept[name].onsets.time, COUNTS[j::8]).all() for j, name in enumerate(NAMES))
    # of whom two cannot be told from the others, nobody is said to take turns
    loudness["Bea"] = np.minimum(loudness["Bea"], 0.6)
    assert len(leave_to_others(takes, loudness)["Cyl"].onsets) > len(COUNTS[2::8])


def test_without_a_clock_the_turns_are_found_too():
    takes, loudness = record(lambda j: range(j, len(COUNTS), 8))
    later = {
        name: Take(PLAN, Onsets(one.onsets.time + 3.3, one.onsets.hand)) for name, one in takes.items()
    }  # behind one clap
    kept = leave_to_others(later, loudness, own_clock=True)
    for j, name in enumerate(NAMES):
        np.testing.assert_allclose(kept[name].onsets.time, COUNTS[j::8] + 3.3)


@pytest.mark.parametrize("loud", [lambda k, j: 2.0 if k % 8 == 0 else 1.0, lambda k, j: 2.0 if k % 8 == j else 1.0])
def test_a_stress_on_some_counts_is_no_turn(loud):
    takes = {name: take(COUNTS) for name in NAMES}
    loudness = {name: np.array([loud(k, j) for k in range(len(COUNTS))]) for j, name in enumerate(NAMES)}
    kept = leave_to_others(takes, loudness)
    assert all(len(one.onsets) == len(COUNTS) for one in kept.values())


def test_who_is_late_by_half_a_count_keeps_her_own_and_not_what_the_others_did_on_it():
    times = np.sort(np.concatenate([COUNTS[:8], COUNTS[8:16] + 0.25, COUNTS[8:16], COUNTS[16:]]))
    own = np.isin(times, np.concatenate([COUNTS[:8], COUNTS[8:16] + 0.25, COUNTS[16:]]))
    takes = {"Ada": take(times), "Bea": take(COUNTS)}
    kept = leave_to_others(takes, {"Ada": np.where(own, 1.0, 0.5), "Bea": np.ones(len(COUNTS))})
    np.testing.assert_allclose(kept["Ada"].onsets.time, times[own])
    assert kept["Bea"] is takes["Bea"]


def test_nothing_is_left_out_where_nobody_knows_how_loud_it_was():
    takes = {"Ada": take(COUNTS), "Bea": take(COUNTS)}
    assert leave_to_others(takes, {}) == takes


def test_who_comes_back_from_half_a_step_late_acts_twice_in_half_a_step():
    late = np.where((COUNTS >= 8) & (COUNTS < 12), COUNTS + 0.245, COUNTS)
    back = int(np.flatnonzero(COUNTS >= 12)[0])
    loud = np.where(np.arange(len(COUNTS)) == back, 0.7, 1.1)
    # a neighbour, half as loud, where she is late
    neighbour = COUNTS[(COUNTS >= 8) & (COUNTS < 12)] + 0.02
    times = np.concatenate([late, neighbour])
    order = np.argsort(times)
    levels = np.concatenate([loud, np.full(neighbour.size, 0.5)])[order]
    kept = leave_to_others({"Ada": take(times[order])}, {"Ada": levels})
    np.testing.assert_allclose(kept["Ada"].onsets.time, np.sort(late))


def test_a_neighbour_louder_for_once_does_not_stand_for_her():
    loud = np.where(np.arange(len(COUNTS)) == 13, 0.65, 1.0)
    # half a step later, so that it is half a step from those before and from those behind
    times = np.sort(np.append(COUNTS, COUNTS[13] + 0.248))
    levels = np.insert(loud, 14, 1.0)
    assert leave_to_others({"Ada": take(times)}, {"Ada": levels})["Ada"].onsets.time == pytest.approx(COUNTS)
    # who is late by half a step for some counts is late, though a softer neighbour is not
    late = np.where((COUNTS >= 8) & (COUNTS < 12), COUNTS + 0.245, COUNTS)
    there = (COUNTS >= 8.4) & (COUNTS < 12)
    times = np.concatenate([late, COUNTS[there] + 0.02])
    order = np.argsort(times)
    levels = np.concatenate([np.ones(late.size), np.full(int(there.sum()), 0.6)])[order]
    assert leave_to_others({"Ada": take(times[order])}, {"Ada": levels})["Ada"].onsets.time == pytest.approx(late)
