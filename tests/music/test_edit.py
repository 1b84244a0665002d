"""Corrections by hand: each does what a coach means, and the rest keeps its numbering sensibly."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tempo_coach.errors import CoachError
from tempo_coach.music import edit
from tempo_coach.music.corrections import DEEDS, Correction, correct, corrections_of_beats, replay, say_correction
from tempo_coach.music.countmap import CountMap, Place
from tempo_coach.music.renumber import usual_length

STEADY = CountMap(1 + 0.5 * np.arange(64), tuple((k, 8) for k in range(0, 64, 8)))
WITH_PAUSE = CountMap(
    np.concatenate([0.5 * np.arange(16), 10 + 0.5 * np.arange(16)]),
    tuple((k, 8) for k in range(0, 32, 8)),
    ((8.0, 10.0),),
)


def place(counts, at):
    where = counts.place(float(counts.counts_at(at)))
    return where.eight, round(where.count, 6)


def test_this_is_one_in_the_first_eight_leaves_what_is_before_uncounted():
    counts = edit.begin_eight(STEADY, 2.5)  # its fourth count
    assert place(counts, 2.5) == (1, 1)
    assert place(counts, 6.5) == (2, 1)
    assert counts.first_count == -3


def test_this_is_one_later_cuts_the_eight_before_and_all_that_follows_goes_with_it():
    counts = edit.begin_eight(STEADY, 1 + 0.5 * 20)  # the fifth count of the third eight
    assert counts.eights[:5] == ((0, 8), (8, 8), (16, 4), (20, 8), (28, 8))
    assert place(counts, 1 + 0.5 * 16) == (3, 1)
    assert place(counts, 1 + 0.5 * 28) == (5, 1)


def test_a_second_one_before_leaves_the_first_one_where_it_is():
    counts = edit.begin_eight(edit.begin_eight(STEADY, 1 + 0.5 * 20), 1 + 0.5 * 3)
    assert counts.eights[:4] == ((3, 8), (11, 8), (19, 1), (20, 8))


def test_this_is_one_where_one_is_changes_nothing():
    assert edit.begin_eight(STEADY, 1 + 0.5 * 16).eights == STEADY.eights


def test_the_first_movement_leaves_the_introduction_uncounted():
    counts = edit.begin_movement(STEADY, 1 + 0.5 * 20)
    assert counts.eights[:2] == ((20, 8), (28, 8))
    assert place(counts, 1 + 0.5 * 20) == (1, 1)
    assert counts.seconds_at(0) == 11


def test_a_bridge_of_four_and_one_of_six_number_what_follows():
    counts = edit.set_length(STEADY, 1 + 0.5 * 10, 4)
    assert counts.eights[:4] == ((0, 8), (8, 4), (12, 8), (20, 8))
    counts = edit.set_length(counts, 1 + 0.5 * 22, 6)
    assert counts.eights[:5] == ((0, 8), (8, 4), (12, 8), (20, 6), (26, 8))
    back = edit.set_length(edit.set_length(counts, 1 + 0.5 * 22, 8), 1 + 0.5 * 10, 8)
    assert back.eights[:3] == STEADY.eights[:3]


@pytest.mark.parametrize("length", [0, 17, -1])
def test_an_eight_of_no_possible_length_is_refused(length):
    with pytest.raises(CoachError, match="expected an eight of 1 to 16 counts"):
        edit.set_length(STEADY, 2, length)


def test_a_beat_moves_between_its_neighbours_only():
    counts = edit.move_beat(STEADY, 3.02, 3.2)
    assert 3.2 in counts.beats and 3.0 not in counts.beats
    assert counts.eights == STEADY.eights
    with pytest.raises(CoachError, match="past the one beside it"):
        edit.move_beat(STEADY, 3, 3.6)
    with pytest.raises(CoachError, match="no count is near"):
        edit.move_beat(STEADY, 200, 200.1)


def test_a_beat_that_was_missed_moves_what_was_counted_wrongly_behind_it():
    missed = CountMap(np.delete(STEADY.beats, 10), STEADY.eights)
    assert place(missed, 1 + 0.5 * 16) == (2, 8)
    counts = edit.add_beat(missed, 1 + 0.5 * 10)
    np.testing.assert_array_equal(counts.beats, STEADY.beats)
    assert counts.eights == STEADY.eights


def test_a_beat_that_was_invented_goes():
    invented = CountMap(np.sort(np.append(STEADY.beats, 5.75)), STEADY.eights)
    counts = edit.drop_beat(invented, 5.75)
    np.testing.assert_array_equal(counts.beats, STEADY.beats)
    assert counts.eights == STEADY.eights


def test_a_beat_added_before_a_place_that_was_set_leaves_it_a_one():
    counts = edit.add_beat(edit.begin_eight(STEADY, 1 + 0.5 * 20), 1.25)
    assert place(counts, 1 + 0.5 * 20)[1] == 1
    assert counts.eights[2] == (16, 5)


def test_a_beat_is_not_added_where_one_is_and_the_last_two_stay():
    with pytest.raises(CoachError, match="there is one already"):
        edit.add_beat(STEADY, 3.05)
    with pytest.raises(CoachError, match="two counts have to be left"):
        edit.drop_beat(CountMap([0, 1]), 0)


def test_half_keeps_the_ones_and_double_brings_the_rest_back():
    half = edit.thin(STEADY, 2)
    np.testing.assert_array_equal(half.beats, STEADY.beats[::2])
    assert half.eights == ((0, 8), (8, 8), (16, 8), (24, 8))
    double = edit.split(half, 2)
    np.testing.assert_allclose(double.beats, STEADY.beats[:-1])
    assert double.eights == STEADY.eights


def test_half_in_a_stretch_only():
    counts = edit.thin(STEADY, 2, start=1 + 0.5 * 16, end=1 + 0.5 * 31)
    np.testing.assert_array_equal(
        counts.beats, np.concatenate([STEADY.beats[:16], STEADY.beats[16:32:2], STEADY.beats[32:]])
    )


def test_a_waltz_counted_by_the_bar_becomes_sixes_and_back():
    by_bar = CountMap(np.arange(24) * 1.5)
    sixes = edit.split(by_bar, 3)
    assert usual_length(sixes) == 6
    np.testing.assert_allclose(np.diff(sixes.beats), 0.5)
    again = edit.thin(sixes, 3)
    assert usual_length(again) == 8
    np.testing.assert_allclose(again.beats, by_bar.beats)


@pytest.mark.parametrize(("asked", "period"), [(120, 0.5), (60, 1.0), (240, 0.25), (40, 1.5), (58, 1.0)])
def test_a_level_is_reached_and_reaching_it_again_does_nothing(asked, period):
    counts = edit.set_level(STEADY, asked)
    np.testing.assert_allclose(np.diff(counts.beats), period)
    again = edit.set_level(counts, asked)
    np.testing.assert_array_equal(again.beats, counts.beats)


def test_doubling_leaves_a_pause_a_pause():
    counts = edit.split(WITH_PAUSE, 2)
    assert counts.pauses == ((8.0, 10.0),)
    assert not ((counts.beats > 8.0) & (counts.beats < 10.0)).any()
    assert 7.75 in counts.beats


def test_a_pause_drops_what_was_counted_in_it_and_leaves_the_last_count_its_length():
    counts = edit.pause(STEADY, 1 + 0.5 * 15, 1 + 0.5 * 24)
    assert counts.pauses == ((9.0, 13.0),)
    assert place(counts, 8.5) == (2, 8)
    assert place(counts, 11.0) == (3, 1)  # it stands still where the next count will be
    assert place(counts, 13.0) == (3, 1)
    assert counts.beats.size == 64 - 8
    with pytest.raises(CoachError, match="no room for a pause"):
        edit.pause(STEADY, 2, 2.5)
    with pytest.raises(CoachError, match="later count"):
        edit.pause(STEADY, 3, 2)


def test_counts_through_silence():
    counts = edit.count_through(WITH_PAUSE, 9.0, 5)
    np.testing.assert_allclose(counts.beats[15:21], 7.5 + 0.5 * np.arange(6))
    assert counts.pauses == ()
    assert edit.count_through(WITH_PAUSE, 9.0).beats.size == counts.beats.size
    with pytest.raises(CoachError, match="do not fit"):
        edit.count_through(WITH_PAUSE, 9.0, 100)
    with pytest.raises(CoachError, match="between two counts"):
        edit.count_through(WITH_PAUSE, 500.0)


def test_a_cut_is_a_one_exactly_there_and_its_stumps_go():
    counts = edit.cut(STEADY, 1 + 0.5 * 20 + 0.2)
    assert 11.2 in counts.beats and 11.0 not in counts.beats
    assert place(counts, 11.2)[1] == 1
    assert counts.eights[2] == (16, 4)
    joined = CountMap(np.concatenate([0.5 * np.arange(16), 7.6 + 0.4 * np.arange(16)]))
    counts = edit.cut(joined, 7.6)
    assert 7.5 not in counts.beats and place(counts, 7.6)[1] == 1


def test_a_stretch_tapped_anew_replaces_what_was_there():
    new = 5 + 0.4 * np.arange(6)
    counts = edit.tap_anew(STEADY, new)
    assert np.isin(new, counts.beats).all()
    outside = STEADY.beats[(STEADY.beats < 4.9) | (STEADY.beats > 7.2)]
    assert np.isin(outside, counts.beats).all()
    assert counts.beats.size == outside.size + 6
    with pytest.raises(CoachError, match="two or more"):
        edit.tap_anew(STEADY, [3.0])


def test_beats_that_are_all_there_are_replace_everything():
    new = 5 + 0.4 * np.arange(40)
    done = corrections_of_beats(new, [(9.0, 12.2)], whole=40.0)
    after = replay(WITH_PAUSE, done)
    assert not after.lost
    np.testing.assert_allclose(after.counts.beats, new[(new < 9.1) | (new > 12.1)])
    assert after.counts.pauses == ((pytest.approx(9.4), pytest.approx(12.2)),)
    stretch = corrections_of_beats(new[:5])
    assert replay(STEADY, stretch).counts.beats[0] == 1.0


def test_what_a_pause_or_a_cut_did_is_undone_by_leaving_it_out():
    done = [
        Correction("pause", 8.5, to=13.0),
        Correction("one", 15.0),
        Correction("length", 16.0, counts=4),
        Correction("drop", 2.0),
    ]
    after = replay(STEADY, done)
    assert not after.lost
    before = replay(STEADY, done[:-1])
    assert before.counts.beats.size == after.counts.beats.size + 1
    np.testing.assert_array_equal(replay(STEADY, []).counts.beats, STEADY.beats)


def test_corrections_find_their_place_on_what_a_better_finder_found():
    done = [
        Correction("level", 0.0, tempo_bpm=120),
        Correction("add", 6.0),
        Correction("move", 9.0, to=9.1),
        Correction("one", 5.0),
    ]
    half = CountMap(1 + np.arange(32.0))  # what was found first: half as fast
    better = CountMap(STEADY.beats + 0.01, STEADY.eights)
    first, later = replay(half, done), replay(better, done)
    # adding is not needed any more and is said; the rest is where it was
    assert [each.do for each, _ in later.lost] == ["add"]
    assert [each.do for each, _ in first.lost] == ["add"]
    assert place(later.counts, 5.01)[1] == 1 and place(first.counts, 5.0)[1] == 1
    assert 9.1 in later.counts.beats and 9.1 in first.counts.beats
    assert later.counts.tempo_bpm == pytest.approx(120)


@pytest.mark.parametrize("deed", DEEDS)
def test_every_correction_is_said_in_words(deed):
    whole = Correction(deed, 62.5, to=64.0, counts=4, tempo_bpm=120, times=(62.5, 63.0))
    assert "1:02.50" in say_correction(whole)


def test_a_correction_that_lacks_something_is_the_callers_bug():
    for wrong in ({"do": "move"}, {"do": "level"}, {"do": "tapped"}, {"do": "nothing"}, {"do": "length"}):
        with pytest.raises(ValueError, match="correction"):
            Correction(at=1.0, **wrong)
    with pytest.raises(ValueError, match="finite"):
        Correction("one", np.nan)


def corrections():
    seconds = st.floats(0, 40)
    return st.builds(
        Correction,
        do=st.sampled_from(DEEDS),
        at=seconds,
        to=seconds,
        counts=st.integers(1, 12),
        tempo_bpm=st.sampled_from([60.0, 120.0, 180.0, 240.0]),
        times=st.floats(1, 30).map(lambda at: (at, at + 0.45, at + 1.0)),
    )


def valid(counts):
    """What holds of every count map beside what its own constructor checks."""
    assert np.diff(counts.beats).min() >= edit.CLOSEST - 1e-9
    positions = np.arange(np.ceil(counts.first_count), counts.last_count)
    np.testing.assert_allclose(counts.counts_at(counts.seconds_at(positions)), positions, atol=1e-6)
    for start, end in counts.pauses:
        assert start < end and not ((counts.beats > start) & (counts.beats < end)).any()


@given(st.lists(corrections(), max_size=12), st.sampled_from([STEADY, WITH_PAUSE]))
def test_any_corrections_in_any_order_leave_counts_that_can_be_counted(done, counts):
    after, lost = replay(counts, done)
    valid(after)
    assert len(lost) <= len(done)
    again = replay(counts, done).counts
    np.testing.assert_array_equal(again.beats, after.beats)
    assert (again.eights, again.pauses) == (after.eights, after.pauses)


@given(st.floats(1, 32), corrections())
def test_a_one_that_was_set_stays_a_one_whatever_is_done_to_counts_before_it(at, other):
    counts = edit.begin_eight(STEADY, at)
    beat = float(counts.beats[edit.find_beat(counts, at)])
    if other.do not in ("add", "drop", "move", "tapped", "length") or max(other.at + 8, *other.times) + 1 >= beat:
        return
    if counts.eights == STEADY.eights:  # it was a one before: nothing was set
        return
    if other.do == "move":
        other = Correction("move", other.at, to=other.at + 0.05)
    try:
        after = correct(counts, other)
    except CoachError:
        return
    assert place(after, beat)[1] == 1


def test_places_before_and_behind_the_counts_are_refused_in_words():
    for do in (edit.begin_eight, edit.begin_movement, edit.drop_beat, edit.cut):
        with pytest.raises(CoachError, match=r"near 99\.00 s|outside"):
            do(STEADY, 99.0)
    assert STEADY.place(8) == Place(2, 1)
