"""Members who do their part in turn: found, and compared round by round; others are not taken for it."""

from __future__ import annotations

import numpy as np
import pytest

from tempo_coach.music.counts.count_map import CountMap
from tempo_coach.observe.take.onsets import Onsets, Take
from tempo_coach.pattern.plan.every_count import lay_every_count
from tempo_coach.reasons import Why
from tempo_coach.score.group.group import judge_group
from tempo_coach.score.group.turns import find_turns, split_turns
from tests.refused import refused

PLAN = lay_every_count(CountMap.steady(120), end=48, tempo_bpm=120)
NAMES = ("Ada", "Bea", "Cyl", "Dora", "Eva")  # invented


def perform(picked, offsets=(0.0,) * 5, seed=3):
    rng = np.random.default_rng(seed)
    takes = {}
    for j, name in enumerate(NAMES):
        times = PLAN.moments.time[picked(j)]
        times = times + offsets[j] + 0.01 * rng.standard_normal(len(times))
        takes[name] = Take(PLAN, Onsets(np.sort(times), ("body",) * len(times)))
    return takes


@pytest.mark.parametrize("moments", [5, 8])
def test_who_is_late_at_her_own_place_of_the_rounds_is_named(moments):
    card = judge_group(perform(lambda j: slice(j, None, moments), (0.0, 0.0, 0.0, 0.0, 0.06)))
    reason = card.reasons["turns"]
    assert reason.code is Why.IN_TURN and reason.args == (NAMES, moments)
    assert [round(1000 * m.bias) for m in card.members] == pytest.approx([0, 0, 0, 0, 60], abs=8)
    assert card.members[4].steady == pytest.approx(0.06, abs=0.012) and not card.canon


def test_together_half_the_tempo_a_canon_and_one_who_misses_much_are_no_turns():
    rng = np.random.default_rng(1)
    every = np.arange(len(PLAN.moments))
    for picked in (
        lambda j: every,
        lambda j: every[::2],
        lambda j: every[2 * j : len(every) - 8 + 2 * j],
        lambda j: every[rng.random(len(every)) > (0.5 if j == 2 else 0.0)],
        lambda j: every[:: 2 if j == 0 else 1],
    ):
        assert "turns" not in judge_group(perform(picked)).reasons


def test_what_others_do_in_her_recording_hides_no_turns():
    rows = np.full((4, 96), np.nan)
    for j in range(4):
        rows[j, j::8] = 0.0
    rows[1, 3::8] = 0.2  # another's, heard in hers
    rows[1, 3] = np.nan
    turns = find_turns(rows)
    assert turns is not None and turns.moments == 8 and turns.places == (0, 1, 2, 3)


def test_a_few_onsets_are_no_turns():
    rows = np.full((3, 40), np.nan)
    rows[0, ::20] = rows[1, 1::20] = 0.0
    assert find_turns(rows) is None


@pytest.mark.parametrize("moments", [5, 8])
def test_one_recording_of_all_in_turn_is_split_by_their_order(moments):
    rng = np.random.default_rng(7)
    on = [k for k in range(16, len(PLAN.moments)) if (k - 16) % moments < len(NAMES) and rng.random() > 0.05]
    late = np.array([0.06 if (k - 16) % moments == 3 else 0.0 for k in on])
    times = PLAN.moments.time[on] + late + 0.01 * rng.standard_normal(len(on))
    takes = split_turns(Take(PLAN, Onsets(times, ("body",) * len(times))), NAMES)
    card = judge_group(takes)
    assert card.reasons["turns"].args == (NAMES, moments)
    assert [round(1000 * m.bias) for m in card.members] == pytest.approx([0, 0, 0, 60, 0], abs=8)


@pytest.mark.parametrize(
    ("on", "words"),
    [
        (range(8), "expected 4 rounds or more of 5 who take turns, found fewer"),
        ([k for k in range(96) if k % 8 < 4], "at the place of one hardly anything is heard"),
    ],
)
def test_too_few_rounds_and_one_who_is_not_heard_are_refused(on, words):
    times = PLAN.moments.time[list(on)]
    with refused(words):
        split_turns(Take(PLAN, Onsets(times, ("body",) * len(times))), NAMES)
