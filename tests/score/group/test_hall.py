"""The way of the sound: between members of whom nobody said where they stood, nobody is named inside it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tempo_coach.music.counts.count_map import CountMap
from tempo_coach.observe.take.onsets import Onsets, Take
from tempo_coach.pattern.plan.every_count import lay_every_count
from tempo_coach.report.words.group import format_group
from tempo_coach.report.words.group_sentence import head_group, tell_group
from tempo_coach.score.group.group import FLOOR, SOUND_PER_METRE, judge_group

PLAN = lay_every_count(CountMap.steady(120), end=32, tempo_bpm=120)
NAMES = ("Ada", "Bea", "Cyl", "Dora")  # invented


def perform(late, *, observed_by="clap", seed=6):
    rng = np.random.default_rng(seed)
    takes = {}
    for name in NAMES:
        times = PLAN.moments.time + (late if name == "Cyl" else 0.0) + 0.008 * rng.standard_normal(len(PLAN.moments))
        takes[name] = Take(PLAN, Onsets(times, ("body",) * len(times)), observed_by=observed_by)
    return takes


def test_three_milliseconds_a_metre_for_the_hall_that_is_stated():
    assert pytest.approx(1 / 344, rel=0.01) == SOUND_PER_METRE  # the speed of sound at 20 °C, a handbook value
    for hall, expected in ((None, FLOOR * SOUND_PER_METRE), (6.0, 6 * SOUND_PER_METRE), (0.0, 0.0)):
        assert [m.unsure for m in judge_group(perform(0.0), hall=hall).members] == pytest.approx([expected] * 4)
    placed = judge_group(perform(0.0), metres={"Ada": 5.0}).members
    # where she stood is known, but not where the others did
    assert all(m.unsure == pytest.approx(FLOOR * SOUND_PER_METRE) for m in placed)
    placed = judge_group(perform(0.0), metres={"Ada": 5.0, "Bea": 3.0, "Cyl": 2.0}).members
    assert [m.unsure > 0.04 for m in placed] == [False, False, False, True]
    assert not any(m.unsure for m in judge_group(perform(0.0, observed_by="tap")).members)


@pytest.mark.parametrize("late", [0.045, 0.06, -0.06])
def test_inside_it_nobody_is_named_and_with_her_place_known_she_is(late):
    card = judge_group(perform(late))
    assert head_group(card) == "together" and not any(name in tell_group(card) for name in NAMES)
    assert "nobody is called early or late within that" in " ".join(format_group(card).split())
    for known in ({"hall": 2.0}, {"metres": dict.fromkeys(NAMES, 3.0)}):
        assert "Cyl" in tell_group(judge_group(perform(late), **known))


@pytest.mark.parametrize("way", ["voice", "film"])
def test_one_at_the_keys_is_not_named_for_the_way_of_the_sound_to_the_others(way):
    takes = {name: replace(take, observed_by="tap" if name == "Cyl" else way) for name, take in perform(-0.06).items()}
    card = judge_group(takes)
    assert head_group(card) == "together" and [m.unsure for m in card.members][2] >= FLOOR * SOUND_PER_METRE
    assert "Cyl" in tell_group(judge_group(takes, metres=dict.fromkeys(NAMES, 3.0))) or way == "film"


def test_beyond_it_she_is_named():
    assert "Cyl" in tell_group(judge_group(perform(0.12)))
