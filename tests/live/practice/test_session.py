"""A practice at one instant: the hand that is asked for, what is left of waiting, whose key it is."""

from __future__ import annotations

from dataclasses import replace

import pytest

from tempo_coach import coach
from tempo_coach.live.practice.session import PracticeState, Stage, Way

PLAN = coach.lay(coach.Request("clubs_mills", tempo_bpm=120, cycles=2))
BOTH = PracticeState(PLAN, hands=("right", "left"))


def test_the_next_hand_without_a_key_is_asked_for() -> None:
    assert BOTH.asked_hand == "right"
    assert replace(BOTH, keys=(("right", "ä"),)).asked_hand == "left"
    assert replace(BOTH, keys=(("left", "x"),)).asked_hand == "right"
    assert replace(BOTH, keys=(("right", "ä"), ("left", "x"))).asked_hand is None
    assert PracticeState(PLAN).asked_hand is None  # nobody taps


def test_a_key_belongs_to_its_hand_alone() -> None:
    known = replace(BOTH, keys=(("right", "ä"), ("left", "space")))
    assert [known.hand_of(key) for key in ("ä", "space", "", "j")] == ["right", "left", None, None]
    assert BOTH.hand_of("j") is None


@pytest.mark.parametrize(
    ("stage", "since", "now", "left"),
    [
        (Stage.WALKING, 5.0, 5.0, 10.0),
        (Stage.WALKING, 5.0, 8.5, 6.5),
        (Stage.WALKING, 5.0, 15.0, 0.0),
        (Stage.WALKING, 5.0, 99.0, 0.0),
        (Stage.RESTING, 5.0, 8.5, 26.5),
        (Stage.PLAYING, 5.0, 8.5, 0.0),
        (Stage.AFTER, 5.0, 8.5, 0.0),
    ],
)
def test_seconds_are_left_of_walking_in_and_of_resting_alone(
    stage: Stage, since: float, now: float, left: float
) -> None:
    session = replace(BOTH, way=Way(ready=10.0, rest=30.0), stage=stage, since=since, now=now)
    assert session.left == pytest.approx(left)


def test_without_time_to_walk_in_nothing_is_left_of_it_though_a_clock_ran_back() -> None:
    assert replace(BOTH, stage=Stage.WALKING, since=5.0, now=4.0).left == 0.0


def test_a_new_practice_asks_first_and_has_heard_nothing() -> None:
    assert (BOTH.stage, BOTH.onsets, BOTH.results, BOTH.number) == (Stage.ASKING, (), (), 1)
    assert BOTH.position != BOTH.position  # NaN: nothing plays
    assert (Way().ready, Way().takes, Way().rest, Way().steps) == (0.0, 1, 20.0, None)
    assert str(Stage.WALKING) == "walking in"
