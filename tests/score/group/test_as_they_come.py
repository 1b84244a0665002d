"""Stamped onsets of several people as they come: the seam at which a group is judged while it moves.

Whatever stamps them (keys, phones, another program) gives seconds on the take clock, a member and a hand; a take of
each member goes into :func:`tempo_coach.score.group.group.judge_group`. What is still to come is unmeasurable.
"""

from __future__ import annotations

import numpy as np
import pytest

from tempo_coach.music.counts.count_map import CountMap
from tempo_coach.observe.take.onsets import Onsets, Take
from tempo_coach.pattern.plan.every_count import lay_every_count
from tempo_coach.score.group.group import judge_group

PLAN = lay_every_count(CountMap.steady(120), end=32, tempo_bpm=120)
NAMES = ("Ada", "Bea", "Cyl", "Dora")  # invented
END = float(PLAN.moments.time[-1]) + 1.0


def stream(seed=4):
    """Stamps in the order of time; Cyl is 180 ms late on the counts 33 to 40."""
    rng = np.random.default_rng(seed)
    late = np.where((np.arange(len(PLAN.moments)) // 8 == 4)[None, :] & (np.array(NAMES) == "Cyl")[:, None], 0.18, 0.0)
    times = PLAN.moments.time + late + 0.012 * rng.standard_normal(late.shape)
    return sorted((t, name, "body") for name, row in zip(NAMES, times.tolist(), strict=True) for t in row)


def judge_until(stamps, now):
    takes = {}
    for name in NAMES:
        mine = [(t, hand) for t, member, hand in stamps if member == name and t <= now]
        onsets = Onsets(np.array([t for t, _ in mine]), tuple(hand for _, hand in mine))
        takes[name] = Take(PLAN, onsets, unmeasurable=((now - 0.3, END),))
    return judge_group(takes)


def test_a_group_is_judged_while_it_moves_and_at_the_end_as_from_files():
    stamps = stream()
    named = {}
    for now in np.arange(4.0, END, 2.0).tolist():
        card = judge_until(stamps, now)
        named[now] = {one.member for one in card.left}
        assert not any(np.isnan(one.offset) for one in card.left), "what is still to come was not missed"
    assert not any(names for now, names in named.items() if now < PLAN.moments.time[32])
    assert all(names == {"Cyl"} for now, names in named.items() if now > PLAN.moments.time[41])
    mine = {name: sorted(t for t, member, _ in stamps if member == name) for name in NAMES}
    whole = judge_group({name: Take(PLAN, Onsets(np.array(t), ("body",) * len(t))) for name, t in mine.items()})
    last = judge_until(stamps, END)
    assert [m.bias for m in last.members] == pytest.approx([m.bias for m in whole.members])
    assert last.left == whole.left
