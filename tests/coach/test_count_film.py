"""What a film of counts shows: count, eight, now and next, at the seconds of the music."""

from dataclasses import replace

import numpy as np

from tempo_coach.coach.count_film import follow_course
from tempo_coach.coach.routine_course import course_of
from tempo_coach.music.counts.count_map import Position
from tempo_coach.pattern.routine.routine import Laid, MusicFile, Remark, Routine, RoutineMoment
from tests.music.counted import STEADY, WITH_PAUSE

ROUTINE = Routine(
    "invented",
    MusicFile("x.wav"),
    laid=(Laid("ball_bounces", Position(2, 1.0), 1),),
    moments=(RoutineMoment("toss", Position(3, 4.0), "right"),),
    remarks=(Remark(2, "chin up"),),
)


def test_each_count_is_shown_from_its_own_second_on():
    steps = [each for each in follow_course(course_of(ROUTINE, STEADY, None), STEADY) if each.count]
    np.testing.assert_allclose([each.start for each in steps], STEADY.beats)
    assert [each.count for each in steps[:9]] == [1, 2, 3, 4, 5, 6, 7, 8, 1]
    assert [each.eight for each in steps[7:9]] == [1, 2]


def test_what_is_laid_is_now_and_what_begins_later_is_next():
    steps = {(each.eight, each.count): each for each in follow_course(course_of(ROUTINE, STEADY, None), STEADY)}
    before = steps[1, 5]
    assert (before.now, before.next_in, before.remark) == ("", 4, "") and "ball" in before.next.lower()
    during = steps[2, 3]
    assert during.now == before.next and during.next == "toss right" and during.next_in == 9
    assert during.remark == "chin up"
    assert steps[3, 4].now == "toss right" and steps[3, 5].now == "" == steps[3, 5].next


def test_in_a_pause_and_behind_the_end_no_count_is_shown():
    course = course_of(replace(ROUTINE, laid=(), moments=()), WITH_PAUSE, None)
    steps = follow_course(course, WITH_PAUSE)
    assert [each.start for each in steps if each.count is None] == [0.0, 8.0, 18.0]
    assert steps[0].start == 0.0 and sorted(steps, key=lambda each: each.start) == list(steps)
