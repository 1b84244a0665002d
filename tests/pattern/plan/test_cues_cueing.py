"""What is heard of a plan: the lead-in, the ones, the moments with a cue, and clicks in long waits."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tempo_coach import coach
from tempo_coach.music.counts.count_map import CountMap
from tempo_coach.pattern.drill.drill import CLOSEST_CLICK, LONGEST_WAIT
from tempo_coach.pattern.plan.layout import lay_out
from tempo_coach.pattern.plan.plan import Plan
from tests.pattern.made_up import make_drill


def lay(drill: str, **options: object) -> Plan:
    return coach.lay(coach.Request(drill, **options))  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("way", "cued"),
    [("all", [1, 1, 1, 1, 1, 1]), ("alternate", [1, 1, 0, 0, 1, 1]), ("ones", [1, 0] * 3), ("none", [0] * 6)],
)
def test_cues_are_thinned_as_asked(way, cued):
    plan = lay_out(make_drill(circles=2), CountMap.steady(100), cycles=3, cues=way)
    assert plan.moments.cue.tolist() == [bool(each) for each in cued]
    sounds = list(plan.cues.sound)
    assert sounds.count("first_hand") == sum(cued)
    assert sounds.count("count") == 4
    assert sounds.count("one") == (0 if way == "none" else 2)


def test_of_each_block_exactly_its_moments_are_heard() -> None:
    plan = lay("rope_figure_eight", cycles=16, cues="thinning")
    cued = plan.moments.cue.reshape(16, 3)
    assert cued[:4].all()
    assert cued[4:8].all(axis=1).tolist() == [True, False, True, False] and not cued[5].any()
    assert cued[8:12].tolist() == [[True, False, False]] * 4
    assert not cued[12:].any()


def test_nothing_at_all_is_heard_in_the_block_without_cues() -> None:
    plan = lay("rope_figure_eight", cycles=16, cues="thinning")
    begin = plan.moments.time[plan.moments.cycle == 12].min()
    assert plan.cues.time.max() < begin
    assert plan.cue_way == "thinning"


def test_slowed_no_wait_between_two_cues_is_longer_than_people_can_keep() -> None:
    plan = lay("ball_figure_eight", tempo_bpm=76)
    inside = plan.cues.time[plan.cues.time >= plan.moments.time[0] - 1e-9]
    assert np.diff(inside).max() <= LONGEST_WAIT
    assert np.diff(np.unique(inside)).min() >= CLOSEST_CLICK


def test_at_its_usual_tempo_a_drill_sounds_as_it_is_written() -> None:
    plan = lay("ball_figure_eight")
    assert plan.cues.sound.count("count") == 4


@given(
    st.floats(30, 400), st.sampled_from(["ball_figure_eight", "rope_figure_eight_observed", "clubs_mills", "ball_flip"])
)
def test_however_slow_no_click_crowds_another_cue(tempo_bpm: float, drill: str) -> None:
    plan = lay(drill, tempo_bpm=tempo_bpm, cycles=4)
    sound = np.array(plan.cues.sound)
    inside = plan.cues.time >= plan.start
    clicks = plan.cues.time[inside & (sound == "count")]
    others = plan.cues.time[inside & (sound != "count")]
    for click in clicks:
        assert np.abs(others - click).min() >= CLOSEST_CLICK - 1e-9
    assert clicks.size < 2 or np.diff(clicks).min() >= CLOSEST_CLICK - 1e-9
