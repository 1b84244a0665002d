"""Seconds to counts and back: bending tempi, pauses, bridges, and what lies outside."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tempo_coach.music.counts.count_map import CountMap, Position

BENDING = np.cumsum([1.0, 0.5, 0.5, 0.6, 0.7, 0.8, 0.6, 0.5, 0.5])


def test_a_steady_tempo_counts_on_without_end_in_both_directions():
    steady = CountMap.steady(120)
    np.testing.assert_allclose(steady.seconds_at([-8, 0, 1, 100]), [-4, 0, 0.5, 50])
    np.testing.assert_allclose(steady.counts_at([-4, 0.25, 50]), [-8, 0.5, 100])


def test_beats_are_whole_counts_and_between_them_the_count_grows_evenly():
    bending = CountMap(BENDING)
    np.testing.assert_allclose(bending.counts_at(BENDING), np.arange(9))
    assert bending.counts_at((BENDING[3] + BENDING[4]) / 2) == pytest.approx(3.5)


def test_beats_before_the_first_one_are_negative_counts():
    led_up = CountMap(BENDING, ((2, 4),))
    assert led_up.first_count == -2
    assert led_up.seconds_at(0) == BENDING[2]
    assert led_up.last_count == 6


def test_in_a_pause_the_count_stands_still():
    paused = CountMap([0, 1, 2, 6, 7], pauses=((3, 6),))
    np.testing.assert_allclose(paused.counts_at([2.5, 3, 4, 5.9, 6, 6.5]), [2.5, 3, 3, 3, 3, 3.5])
    assert paused.seconds_at(3) == 3
    assert paused.seconds_at(3, after=True) == 6


def test_a_pause_in_the_middle_of_a_count_holds_that_part_of_it():
    paused = CountMap([0, 1, 4, 5], pauses=((1.5, 3.5),))
    np.testing.assert_allclose(paused.counts_at([1.25, 1.5, 3, 3.5, 3.75]), [1.25, 1.5, 1.5, 1.5, 1.75])


def test_a_pause_does_not_slow_what_follows_the_last_beat():
    paused = CountMap([0, 1, 6], pauses=((2, 6),))
    assert paused.seconds_at(3) == pytest.approx(7)


def test_eights_of_other_lengths_are_numbered_through():
    bridge = CountMap(np.arange(40) * 0.5, ((0, 8), (8, 4), (12, 8)))
    assert bridge.place(7) == Position(1, 8)
    assert bridge.place(8) == Position(2, 1)
    assert bridge.place(12) == Position(3, 1)
    assert bridge.place(20) == Position(4, 1)
    assert bridge.place(-1) == Position(0, 8)
    assert [bridge.start_of_eight(k) for k in (0, 1, 2, 3, 4, 5)] == [-8, 0, 8, 12, 20, 28]


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (([0.0],), "two or more"),
        (([0, 1, 1],), "ascending"),
        (([0, np.nan],), "finite"),
        (([0, 1, 2], ((0, 8), (9, 8))), "next one at beat 8"),
        (([0, 1, 2], ()), "at least one"),
        (([0, 1, 2], ((0, 8),), ((0.5, 1.5),)), "inside one interval"),
        (([0, 1, 2], ((0, 8),), ((2.5, 3),)), "inside one interval"),
    ],
)
def test_what_cannot_be_counted_is_refused(arguments, words):
    with pytest.raises(ValueError, match=words):
        CountMap(*arguments)


steps = st.lists(st.floats(0.2, 2.0), min_size=2, max_size=30)


@given(steps, st.floats(-20, 60))
def test_counts_and_seconds_are_inverse_without_a_pause(lengths, count):
    counts = CountMap(np.cumsum(lengths))
    assert counts.counts_at(counts.seconds_at(count)) == pytest.approx(count, abs=1e-9)


@given(steps, st.data())
def test_with_a_pause_they_are_inverse_outside_it_and_monotonic(lengths, data):
    beats = np.cumsum(lengths)
    where = data.draw(st.integers(0, beats.size - 2))
    parts = sorted(data.draw(st.lists(st.floats(0.05, 0.95), min_size=2, max_size=2, unique=True)))
    start, end = beats[where] + np.array(parts) * lengths[where + 1]
    if end - start < 1e-6:
        return
    counts = CountMap(beats, pauses=((start, end),))
    times = np.linspace(beats[0] - 1, beats[-1] + 1, 200)
    read = counts.counts_at(times)
    assert (np.diff(read) >= 0).all()
    outside = (times < start) | (times > end)
    np.testing.assert_allclose(counts.seconds_at(read[outside]), times[outside], atol=1e-6)
    level = counts.counts_at((start + end) / 2)
    assert counts.seconds_at(level) == pytest.approx(start)
    assert counts.seconds_at(level, after=True) == pytest.approx(end)


def found(times, bar, rests=()):
    from tempo_coach.music.beats.finder import Beats

    return Beats(np.asarray(times, float), np.asarray(bar), np.ones(len(times)), rests, (), float(times[-1]) + 1)


def test_two_bars_of_four_make_an_eight_and_what_comes_before_the_first_one_leads_up_to_it():
    counts = CountMap.from_beats(found(0.5 * np.arange(20), [3, 4, *[1, 2, 3, 4] * 4, 1, 2]))
    assert counts.eights == ((2, 8), (10, 8), (18, 8))
    assert counts.first_count == -2
    assert counts.seconds_at(0) == 1.0


def test_two_bars_of_three_make_a_six():
    counts = CountMap.from_beats(found(0.5 * np.arange(14), [3, *[1, 2, 3] * 4, 1]))
    assert counts.eights == ((1, 6), (7, 6), (13, 6))


def test_music_without_a_one_is_counted_from_its_first_beat():
    assert CountMap.from_beats(found(np.arange(9), [2] * 9)).eights == ((0, 8), (8, 8))


def test_a_found_rest_begins_when_the_last_beat_before_it_is_over():
    times = np.array([0, 0.5, 1.0, 1.5, 2.0, 6.0, 6.5, 7.0])
    counts = CountMap.from_beats(found(times, [1, 2, 3, 4] * 2, rests=((2.0, 6.0),)))
    assert counts.pauses == ((2.5, 6.0),)
    np.testing.assert_allclose(counts.counts_at([2.25, 2.5, 4, 6.0, 6.25]), [4.5, 5, 5, 5, 5.5])


def test_a_rest_takes_its_length_from_the_beats_before_it_not_from_the_whole_piece():
    times = np.array([0, 1, 2, 3, 4, 9, *(9 + 0.5 * np.arange(1, 20))])
    counts = CountMap.from_beats(found(times, [1, 2, 3, 4] * 6 + [1], rests=((4.0, 9.0),)))
    assert counts.pauses == ((5.0, 9.0),)


def test_a_rest_no_longer_than_a_beat_is_no_pause():
    counts = CountMap.from_beats(found(np.arange(8), [1, 2, 3, 4] * 2, rests=((3.0, 4.0),)))
    assert counts.pauses == ()


def test_a_pause_after_the_very_first_beat_is_as_long_as_what_is_usual_leaves():
    times = np.array([0, 5, 6, 7, 8.0])
    assert CountMap.from_beats(found(times, [1, 2, 3, 4, 1], rests=((0.0, 5.0),))).pauses == ((1.0, 5.0),)


def test_two_pauses_each_hold_their_own_count():
    counts = CountMap([0, 1, 4, 5, 9], pauses=((6.0, 9.0), (2.0, 4.0)))
    np.testing.assert_allclose(counts.counts_at([3, 4, 4.5, 5.5, 8, 10]), [2, 2, 2.5, 3.5, 4, 5])
    np.testing.assert_allclose(counts.period_at([1.5, 3.5]), [1, 1])
    np.testing.assert_allclose(counts.period_at([2.2]), [1])


def test_each_end_goes_on_at_its_own_tempo():
    counts = CountMap([0, 1, 2, 3, 4, 4.5, 5, 5.5, 6])
    np.testing.assert_allclose(counts.seconds_at([-2, 10]), [-2, 7])
    np.testing.assert_allclose(counts.counts_at([-2, 7]), [-2, 10])


def test_the_first_and_last_beat_belong_to_the_counts_themselves():
    counts = CountMap([0.0, 1.0, 3.0])
    np.testing.assert_allclose(counts.counts_at([0.0, 3.0]), [0, 2])
    assert counts.tempo_bpm == pytest.approx(40)


def test_eights_begin_inside_the_beats_and_have_a_length():
    with pytest.raises(ValueError, match="first beat of 0 or more, got -1"):
        CountMap([0, 1, 2], ((-1, 8),))
    with pytest.raises(ValueError, match="lengths of 1 or more, got 0"):
        CountMap([0, 1, 2], ((0, 0),))
    assert CountMap([0, 1, 2], ((0, 1), (1, 8))).place(1) == Position(2, 1)
    with pytest.raises(ValueError, match="inside one interval"):
        CountMap([0, 1, 2], pauses=((0.5, 0.5),))


def test_a_map_keeps_its_own_columns_whatever_was_passed():
    counts = CountMap([0, 1, 2], [[0, 8.0]], [[1.25, 1.75]])
    assert not counts.beats.flags.writeable
    assert counts.eights == ((0, 8),) and isinstance(counts.eights[0][1], int)
    assert counts.pauses == ((1.25, 1.75),)
    with pytest.raises(AttributeError):
        counts.beats = np.zeros(3)


def test_a_pause_that_fills_a_whole_interval_holds_the_count_before_it():
    counts = CountMap([0, 1, 3, 4], pauses=((1.0, 3.0),))
    assert counts.counts_at(2.0) == pytest.approx(1)
    assert counts.seconds_at(1) == 1
    assert counts.counts_at(3.0) == pytest.approx(2)


def test_a_map_that_is_nothing_but_a_pause_goes_on_at_the_pace_of_its_beats():
    counts = CountMap([0.0, 2.0], pauses=((0.0, 2.0),))
    np.testing.assert_allclose(counts.counts_at([-2, 1, 2, 4]), [-1, 0, 1, 2])


def test_two_beats_and_short_pieces_are_one_eight():
    assert CountMap.from_beats(found([0, 1], [1, 2])).eights == ((0, 8),)
    assert CountMap.from_beats(found(np.arange(8), [1, 2, 3, 4] * 2)).eights == ((0, 8),)
    with pytest.raises(ValueError, match="beats: expected two or more, got 1"):
        CountMap.from_beats(found([0], [1]))


def test_a_rest_outside_the_beats_is_left_out_and_the_next_one_is_not():
    times = np.array([0, 1, 2, 3.5, 4.5])
    counts = CountMap.from_beats(found(times, [1, 2, 3, 4, 1], rests=((-3.0, -1.0), (2.0, 3.5), (4.5, 9.0))))
    assert counts.pauses == ((3.0, 3.5),)
