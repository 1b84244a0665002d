"""Corrections as values: done again on counts found anew, and never leaving counts that are none."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tempo_coach.errors import CoachError
from tempo_coach.music.counts import edit_place
from tempo_coach.music.counts.corrections import (
    CORRECTION_KINDS,
    Correction,
    correct,
    corrections_of_beats,
    replay,
)
from tempo_coach.music.counts.count_map import CountMap
from tempo_coach.music.counts.edit_place import CLOSEST
from tests.music.counted import STEADY, WITH_PAUSE, place


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


def test_a_count_that_was_found_at_its_new_place_already_is_put_there_exactly():
    # what was first found at 3.0 s is now found where it was moved to, a little off, with others between
    after = replay(STEADY, [Correction("move", 3.0, to=4.6)])
    assert not after.lost
    assert 4.6 in after.counts.beats and 4.5 not in after.counts.beats and 3.0 in after.counts.beats


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
        do=st.sampled_from(CORRECTION_KINDS),
        at=seconds,
        to=seconds,
        counts=st.integers(1, 12),
        tempo_bpm=st.sampled_from([60.0, 120.0, 180.0, 240.0]),
        times=st.floats(1, 30).map(lambda at: (at, at + 0.45, at + 1.0)),
    )


def valid(counts):
    """What holds of every count map beside what its own constructor checks."""
    assert np.diff(counts.beats).min() >= CLOSEST - 1e-9
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
    counts = edit_place.begin_eight(STEADY, at)
    beat = float(counts.beats[edit_place.find_beat(counts, at)])
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
