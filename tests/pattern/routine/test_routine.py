"""A routine as a value: its places, what does not fit its music, and drills laid on it."""

import numpy as np
import pytest

from tempo_coach.music.counts.corrections import Correction
from tempo_coach.music.counts.count_map import CountMap, Position
from tempo_coach.pattern.routine.routine import (
    Laid,
    MusicFile,
    Routine,
    RoutineMoment,
    Steps,
    check_fit,
    eights_of,
    position_of,
    span_of,
)
from tempo_coach.reasons import Reason, Why


def test_places_behind_the_music_and_counts_that_an_eight_lacks_are_said():
    counts = CountMap(0.5 * np.arange(32), ((0, 8), (8, 4), (12, 8), (20, 8), (28, 8)))
    routine = Routine(
        "x",
        MusicFile("x.wav"),
        first=Position(1, 1),
        last=Position(9, 8),
        moments=(RoutineMoment("toss", Position(2, 6)),),
        corrections=(Correction("one", 99.0),),
    )
    said = check_fit(routine, counts, 16.0)
    assert len(said) == 3
    assert (said[0].code, said[0].args[:3]) == (Why.BEYOND_MUSIC, ("last", "", 9))
    assert said[1:] == [
        Reason(Why.BEYOND_EIGHT, ("moment", "toss", 6, 2, 4)),
        Reason(Why.CORRECTION_BEYOND_MUSIC, (99.0,)),
    ]
    assert check_fit(Routine("x", MusicFile("x.wav")), counts, 16.0) == []


def test_eights_and_places_follow_the_bridge():
    counts = CountMap(0.5 * np.arange(32), ((0, 8), (8, 4), (12, 8)))
    assert eights_of(counts, 16.0) == [(1, 0.0, 8), (2, 8.0, 4), (3, 12.0, 8), (4, 20.0, 8), (5, 28.0, 8)]
    assert position_of(counts, Position(3, 1)) == 12
    routine = Routine("x", MusicFile("x.wav"), first=Position(2, 1), last=Position(3, 8))
    assert (routine.first_movement(counts), routine.last_movement(counts)) == (4.0, 9.5)


@pytest.mark.parametrize("wrong", [Position(0, 1), Position(1, 0.5), Position(1, float("nan"))])
def test_a_place_before_the_first_count_is_the_callers_bug(wrong):
    with pytest.raises(ValueError, match="from 1"):
        Laid("x", wrong)


def test_steps_that_end_before_they_start_and_nothing_laid_are_the_callers_bug():
    with pytest.raises(ValueError, match="end after they start"):
        Steps(Position(3, 2), Position(3, 2))
    for wrong in ({"drill": ""}, {"eights": 0}):
        with pytest.raises(ValueError, match="one eight or more"):
            Laid(**{"drill": "x", "at": Position(1, 1), **wrong})


def test_what_is_laid_takes_the_place_of_the_same_hands_there_and_stands_in_order():
    routine = Routine("x", MusicFile("x.wav"), laid=(Laid("a", Position(3, 1)), Laid("b", Position(5, 1), hand="left")))
    assert [each.drill for each in routine.with_laid(Laid("c", Position(4, 1))).laid] == ["a", "c", "b"]
    assert [each.drill for each in routine.with_laid(Laid("c", Position(3, 1))).laid] == ["c", "b"]
    other_hand = routine.with_laid(Laid("c", Position(5, 1), hand="right"))
    assert [(each.drill, each.hand) for each in other_hand.laid] == [("a", ""), ("b", "left"), ("c", "right")]


def test_a_laid_drill_is_over_where_its_eights_are_also_across_a_bridge():
    counts = CountMap(0.5 * np.arange(40), ((0, 8), (8, 4), (12, 8)))
    assert span_of(counts, Laid("x", Position(1, 5), eights=2)) == (4, 16)
