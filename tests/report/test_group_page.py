"""The page of a group: its members, its eights, and what cannot be told."""

import numpy as np

from tempo_coach.observe.onsets import Onsets, Take
from tempo_coach.report.group_page import group_page
from tempo_coach.score.group import judge_group, judge_mix
from tests.history.season import lay, make_take
from tests.report.pages import EVIL, check


def test_the_page_of_a_group_and_of_a_mix():
    plan = lay(cycles=24)
    takes = {}
    for k, name in enumerate(("Ada", EVIL, "Cyl")):
        take = make_take(k + 1, bias=0.03 * k, cycles=24)
        takes[name] = Take(plan, take.onsets)
    reader = check(group_page(judge_group(takes), title=EVIL))
    assert EVIL in "".join(reader.words)
    times = np.concatenate([take.onsets.time for take in takes.values()])
    mix = Take(plan, Onsets.unsorted(times.tolist(), ["right"] * len(times)))
    assert "who was who cannot be told" in group_page(judge_mix(mix))
    check(group_page(judge_mix(mix)))
