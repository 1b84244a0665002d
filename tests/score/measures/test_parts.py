"""The parts of a take: blocks of cues, places on the counts, and what is measured in each."""

import math

import numpy as np
import pytest

from tempo_coach import coach
from tempo_coach.pattern.plan.plan import Moments
from tempo_coach.score.measures.parts import find_parts, name_blocks, place_counts
from tempo_coach.score.measures.period import spread

SHORT = {"with cues": "w", "thinned cues": "t", "without cues": "o"}


def blocks_of(*cues, first=0):
    """First letters of the blocks of cycles whose moments have these cues."""
    cue = [one == "x" for each in cues for one in each]
    cycle = [first + k for k, each in enumerate(cues) for _ in each]
    n = len(cue)
    moments = Moments(
        np.arange(n) * 0.5, cycle, ["right"] * n, ["low"] * n, np.arange(n), np.full(n, np.nan), cue, ["circle"] * n
    )
    names = name_blocks(moments)
    assert list(names) == list(range(first, first + len(cues)))
    return "".join(SHORT[name] for name in names.values())


@pytest.mark.parametrize(
    ("cues", "blocks"),
    [
        ([], ""),
        (["x"], "w"),
        (["."], "o"),
        (["x."], "t"),
        (["x", "x"], "ww"),
        ([".", "."], "oo"),
        (["x", "."], "tt"),  # every other cycle
        (["x", "x", "."], "wwt"),  # between two that have some, the end counting as its neighbour does
        (["x", "x", ".", "."], "wwoo"),
        (["x", "x", "x", ".", "x", ".", "x", "x"], "wwwtttww"),
        ([".", ".", "x", "x", ".", "."], "oowwoo"),
        ([".", "x", "x", "x"], "twww"),
        (["x", ".", ".", "."], "tooo"),
        ([".", ".", ".", "x"], "ooot"),
        (["xx", "x.", "..", ".."], "wtoo"),
    ],
)
def test_blocks(cues, blocks):
    assert blocks_of(*cues) == blocks
    assert blocks_of(*cues, first=5) == blocks


def test_places_are_the_plans_also_in_the_lead_in_and_behind_the_passage():
    plan = coach.lay(coach.Request("clubs_mills", tempo_bpm=100, cycles=8))
    # and behind the passage, where the last moment of a hand that trails lies
    counts = np.arange(-8, plan.eights[-1].start + 2 * plan.eights[-1].length + 1, 0.5)
    eights, numbers = place_counts(plan, counts)
    said = [plan.place(float(count)) for count in counts]
    assert eights == [place.eight for place in said]
    assert numbers == pytest.approx([place.count for place in said])
    # rounding does not put a first count into the eight before
    assert place_counts(plan, plan.eights[1].start - np.array([1e-12])) == ([plan.eights[1].number], pytest.approx([1]))


def test_parts_are_named_in_order_and_measured():
    plan = coach.lay(coach.Request("clubs_mills", tempo_bpm=100, cycles=8))
    moments = plan.moments
    off = 0.01 * np.sin(np.arange(len(moments)))
    off[3] = math.nan
    parts = find_parts(plan, off, name_blocks(moments))
    assert list(parts) == ["circle", "hand", "count", "eight", "cues"]
    assert [part.name for part in parts["hand"]] == list(dict.fromkeys(moments.hand))
    names = [f"{hand} {label}" for hand, label in zip(moments.hand, moments.label, strict=True)]
    assert [part.name for part in parts["circle"]] == list(dict.fromkeys(names))
    assert [part.name for part in parts["cues"]] == ["with cues"]
    # the left hand's last circle trails into the eight that would follow
    assert [part.name for part in parts["eight"]] == ["1", "2", "3"]
    assert [part.n for part in parts["eight"]] == [6, 8, 1]
    assert [part.name for part in parts["count"]] == list("12345678")
    for by in parts:
        assert sum(part.n for part in parts[by]) == len(moments) - 1
    for part in parts["hand"]:
        values = off[[hand == part.name for hand in moments.hand]]
        values = values[~np.isnan(values)]
        assert (part.bias, part.spread, part.n) == (pytest.approx(values.mean()), spread(values), len(values))
        assert part.low < part.bias < part.high


def test_one_hand_names_circles_by_label_and_a_part_without_onsets_has_no_number():
    plan = coach.lay(coach.Request("rope_figure_eight", tempo_bpm=100, cycles=4))
    parts = find_parts(plan, np.full(len(plan.moments), math.nan), name_blocks(plan.moments))
    assert [part.name for part in parts["circle"]] == list(dict.fromkeys(plan.moments.label))
    assert all(part.n == 0 and math.isnan(part.bias) and math.isnan(part.low) for part in parts["circle"])
