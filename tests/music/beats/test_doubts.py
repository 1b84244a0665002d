"""Every kind of doubtful place is named once, and a steady row of beats has none."""

import numpy as np

from tempo_coach.music.beats.doubts import find_doubts
from tempo_coach.reasons import Reason, Why

STEADY = 0.5 * np.arange(60)
SURE = np.ones(60)


def test_a_steady_row_of_beats_has_no_doubtful_place():
    assert find_doubts(STEADY, SURE, ()) == []
    assert find_doubts(STEADY[:1], SURE[:1], ()) == []
    assert find_doubts(STEADY[:0], SURE[:0], ()) == []


def test_a_missing_and_an_extra_beat_are_named_where_they_are():
    assert find_doubts(np.delete(STEADY, 20), SURE[1:], ()) == [(9.5, Reason(Why.BEAT_MISSING), None)]
    extra = np.insert(STEADY, 31, 15.2)
    doubts = find_doubts(extra, np.ones(61), ())
    assert {reason for _, reason, _ in doubts} == {Reason(Why.BEAT_TOO_MANY)}
    assert all(abs(time - 15.2) < 0.4 for time, *_ in doubts)


def test_a_jump_of_tempo_is_named_once_and_a_ramp_is_not():
    jump = np.concatenate([STEADY, STEADY[-1] + 0.4 * np.arange(1, 41)])
    assert find_doubts(jump, np.ones(100), ()) == [(STEADY[-1], Reason(Why.TEMPO_JUMPS), None)]
    assert find_doubts(np.cumsum(np.linspace(0.5, 0.7, 60)), SURE, ()) == []


def test_a_pause_is_named_and_nothing_else_at_it():
    times = np.concatenate([STEADY, STEADY + 33])
    assert find_doubts(times, np.ones(120), [(29.5, 33.0)]) == [(29.5, Reason(Why.PAUSE, (3.0,)), None)]


def test_stretches_that_are_hard_to_hear_and_another_level_with_its_tempo_are_named_at_their_start():
    weak = SURE.copy()
    weak[10:16] = 0.1
    weak[40] = 0.1
    assert find_doubts(STEADY, weak, (), level=0.5) == [
        (0.0, Reason(Why.TWO_LEVELS, (0.5, 60)), None),
        (5.0, Reason(Why.HARD_TO_HEAR), 7.5),
    ]


def test_the_same_reason_soon_after_is_told_once_and_later_again():
    # of 120 beats of half a second, those at 10, 14 and 30 s are missing
    gaps = np.delete(0.5 * np.arange(120), [20, 28, 60])
    missing = Reason(Why.BEAT_MISSING)
    assert find_doubts(gaps, np.ones(117), ()) == [(9.5, missing, None), (29.5, missing, None)]


def test_two_stretches_in_quick_succession_are_one():
    unsure = np.zeros(60, dtype=bool)
    unsure[10:16] = unsure[22:28] = True
    assert find_doubts(STEADY, SURE, (), unsure=unsure) == [(5.0, Reason(Why.HARD_TO_HEAR), 13.5)]
