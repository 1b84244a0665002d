"""What is laid stays on its music when the counts under it change."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tempo_coach.music.counts import edit_place, edit_stretch
from tempo_coach.music.counts.count_map import CountMap, Position
from tempo_coach.pattern.routine.routine import (
    Laid,
    MusicFile,
    Remark,
    Routine,
    RoutineMoment,
    Steps,
    carry_places,
    position_of,
)

STEADY = CountMap(1 + 0.5 * np.arange(96), tuple((k, 8) for k in range(0, 96, 8)))
ROUTINE = Routine(
    "an invented one",
    MusicFile("invented.wav"),
    first=Position(1, 1),
    last=Position(12, 8),
    laid=(Laid("clubs_mills", Position(5, 1), eights=2), Laid("ball_flip", Position(8, 3))),
    moments=(RoutineMoment("toss", Position(7, 7.5), "right"),),
    steps=(Steps(Position(9, 1), Position(11, 1)),),
    remarks=(Remark(6, "look up"),),
)


def seconds(routine, counts):
    places = [
        routine.first,
        routine.last,
        *(each.at for each in sorted(routine.laid, key=lambda each: each.drill)),
        *(each.at for each in routine.moments),
        *(place for each in routine.steps for place in (each.start, each.end)),
        *(Position(each.eight, 1.0) for each in routine.remarks),
    ]
    return [float(counts.seconds_at(position_of(counts, place), after=True)) for place in places]


def test_a_bridge_before_them_gives_them_other_numbers_and_the_same_music():
    counts = edit_place.set_length(STEADY, 1 + 0.5 * 16, 4)  # the third eight has four counts
    carried = carry_places(ROUTINE, STEADY, counts)
    assert carried.laid[0].at == Position(5, 5)  # half an eight later in the numbering
    assert carried.moments[0].at == Position(8, 3.5)
    # all but the remark, which belongs to an eight and not to one of its counts
    np.testing.assert_allclose(seconds(carried, counts)[:-1], seconds(ROUTINE, STEADY)[:-1], atol=1e-9)


def test_an_introduction_that_no_longer_counts_moves_all_of_them_up():
    counts = edit_place.begin_movement(STEADY, 1 + 0.5 * 16)
    carried = carry_places(ROUTINE, STEADY, counts)
    assert carried.laid[0] == Laid("clubs_mills", Position(3, 1), eights=2)
    assert carried.remarks == (Remark(4, "look up"),)
    # what would come before the first count 1 has no other number to go to
    assert carried.first == Position(1, 1)


@pytest.mark.parametrize(("factor", "eights"), [(2, 1), (1, 2)])
def test_counted_half_as_fast_two_eights_are_one(factor, eights):
    counts = edit_stretch.thin(STEADY, factor) if factor > 1 else STEADY
    laid = carry_places(ROUTINE, STEADY, counts).laid[0]
    assert laid.eights == eights
    assert float(counts.seconds_at(position_of(counts, laid.at))) == 1 + 0.5 * 32


def test_the_same_counts_change_nothing():
    assert carry_places(ROUTINE, STEADY, STEADY) == ROUTINE


@given(st.floats(2, 40), st.sampled_from(["one", "first", "four", "add", "drop", "pause"]))
def test_whatever_is_corrected_a_place_keeps_its_time_within_an_eighth_of_a_count(at, what):
    counts = {
        "one": lambda: edit_place.begin_eight(STEADY, at),
        "first": lambda: edit_place.begin_movement(STEADY, at),
        "four": lambda: edit_place.set_length(STEADY, at, 4),
        "add": lambda: edit_place.add_beat(STEADY, float(STEADY.beats[edit_place.find_beat(STEADY, at)]) + 0.25),
        "drop": lambda: edit_place.drop_beat(STEADY, at),
        "pause": lambda: edit_stretch.pause(STEADY, at, at + 3),
    }[what]()
    carried = carry_places(ROUTINE, STEADY, counts)
    old, new = seconds(ROUTINE, STEADY), seconds(carried, counts)
    for before, after in list(zip(old, new, strict=True))[2:5]:
        paused = any(start <= before < end for start, end in counts.pauses)
        if paused or before < float(counts.seconds_at(0)):
            continue
        if what == "pause" and at - 1 < before < at + 4:
            continue
        assert abs(after - before) <= 0.125 * 1.01
