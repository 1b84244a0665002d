"""Corrections at one place: each does what a coach means, and the rest keeps its numbering sensibly."""

import numpy as np
import pytest

from tempo_coach.music.counts import edit_place
from tempo_coach.music.counts.count_map import CountMap
from tests.music.counted import STEADY, place
from tests.refused import refused


def test_this_is_one_in_the_first_eight_leaves_what_is_before_uncounted():
    counts = edit_place.begin_eight(STEADY, 2.5)  # its fourth count
    assert place(counts, 2.5) == (1, 1)
    assert place(counts, 6.5) == (2, 1)
    assert counts.first_count == -3


def test_this_is_one_later_cuts_the_eight_before_and_all_that_follows_goes_with_it():
    counts = edit_place.begin_eight(STEADY, 1 + 0.5 * 20)  # the fifth count of the third eight
    assert counts.eights[:5] == ((0, 8), (8, 8), (16, 4), (20, 8), (28, 8))
    assert place(counts, 1 + 0.5 * 16) == (3, 1)
    assert place(counts, 1 + 0.5 * 28) == (5, 1)


def test_a_second_one_before_leaves_the_first_one_where_it_is():
    counts = edit_place.begin_eight(edit_place.begin_eight(STEADY, 1 + 0.5 * 20), 1 + 0.5 * 3)
    assert counts.eights[:4] == ((3, 8), (11, 8), (19, 1), (20, 8))


def test_this_is_one_where_one_is_changes_nothing():
    assert edit_place.begin_eight(STEADY, 1 + 0.5 * 16).eights == STEADY.eights


def test_the_first_movement_leaves_the_introduction_uncounted():
    counts = edit_place.begin_movement(STEADY, 1 + 0.5 * 20)
    assert counts.eights[:2] == ((20, 8), (28, 8))
    assert place(counts, 1 + 0.5 * 20) == (1, 1)
    assert counts.seconds_at(0) == 11


def test_a_bridge_of_four_and_one_of_six_number_what_follows():
    counts = edit_place.set_length(STEADY, 1 + 0.5 * 10, 4)
    assert counts.eights[:4] == ((0, 8), (8, 4), (12, 8), (20, 8))
    counts = edit_place.set_length(counts, 1 + 0.5 * 22, 6)
    assert counts.eights[:5] == ((0, 8), (8, 4), (12, 8), (20, 6), (26, 8))
    back = edit_place.set_length(edit_place.set_length(counts, 1 + 0.5 * 22, 8), 1 + 0.5 * 10, 8)
    assert back.eights[:3] == STEADY.eights[:3]


@pytest.mark.parametrize("length", [0, 17, -1])
def test_an_eight_of_no_possible_length_is_refused(length):
    with refused("expected an eight of 1 to 16 counts"):
        edit_place.set_length(STEADY, 2, length)


def test_a_beat_moves_between_its_neighbours_only():
    counts = edit_place.move_beat(STEADY, 3.02, 3.2)
    assert 3.2 in counts.beats and 3.0 not in counts.beats
    assert counts.eights == STEADY.eights
    with refused("past the one beside it"):
        edit_place.move_beat(STEADY, 3, 3.6)
    with refused("no count is near"):
        edit_place.move_beat(STEADY, 200, 200.1)


def test_a_beat_that_was_missed_moves_what_was_counted_wrongly_behind_it():
    missed = CountMap(np.delete(STEADY.beats, 10), STEADY.eights)
    assert place(missed, 1 + 0.5 * 16) == (2, 8)
    counts = edit_place.add_beat(missed, 1 + 0.5 * 10)
    np.testing.assert_array_equal(counts.beats, STEADY.beats)
    assert counts.eights == STEADY.eights


def test_a_beat_that_was_invented_goes():
    invented = CountMap(np.sort(np.append(STEADY.beats, 5.75)), STEADY.eights)
    counts = edit_place.drop_beat(invented, 5.75)
    np.testing.assert_array_equal(counts.beats, STEADY.beats)
    assert counts.eights == STEADY.eights


def test_a_beat_added_before_a_place_that_was_set_leaves_it_a_one():
    counts = edit_place.add_beat(edit_place.begin_eight(STEADY, 1 + 0.5 * 20), 1.25)
    assert place(counts, 1 + 0.5 * 20)[1] == 1
    assert counts.eights[2] == (16, 5)


def test_a_beat_is_not_added_where_one_is_and_the_last_two_stay():
    with refused("there is one already"):
        edit_place.add_beat(STEADY, 3.05)
    with refused("two counts have to be left"):
        edit_place.drop_beat(CountMap([0, 1]), 0)


def test_a_cut_is_a_one_exactly_there_and_its_stumps_go():
    counts = edit_place.cut(STEADY, 1 + 0.5 * 20 + 0.2)
    assert 11.2 in counts.beats and 11.0 not in counts.beats
    assert place(counts, 11.2)[1] == 1
    assert counts.eights[2] == (16, 4)
    joined = CountMap(np.concatenate([0.5 * np.arange(16), 7.6 + 0.4 * np.arange(16)]))
    counts = edit_place.cut(joined, 7.6)
    assert 7.5 not in counts.beats and place(counts, 7.6)[1] == 1


def test_places_before_and_behind_the_counts_are_refused_in_words():
    for do in (edit_place.begin_eight, edit_place.begin_movement, edit_place.drop_beat, edit_place.cut):
        with refused(r"near 99\.00 s|outside"):
            do(STEADY, 99.0)
