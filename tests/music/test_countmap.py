import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tempo_coach.music.countmap import CountMap, Place

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
    assert paused.in_pause(4)
    assert not paused.in_pause(6)


def test_a_pause_in_the_middle_of_a_count_holds_that_part_of_it():
    paused = CountMap([0, 1, 4, 5], pauses=((1.5, 3.5),))
    np.testing.assert_allclose(paused.counts_at([1.25, 1.5, 3, 3.5, 3.75]), [1.25, 1.5, 1.5, 1.5, 1.75])


def test_a_pause_does_not_slow_what_follows_the_last_beat():
    paused = CountMap([0, 1, 6], pauses=((2, 6),))
    assert paused.seconds_at(3) == pytest.approx(7)


def test_eights_of_other_lengths_are_numbered_through():
    bridge = CountMap(np.arange(40) * 0.5, ((0, 8), (8, 4), (12, 8)))
    assert bridge.place(7) == Place(1, 8)
    assert bridge.place(8) == Place(2, 1)
    assert bridge.place(12) == Place(3, 1)
    assert bridge.place(20) == Place(4, 1)
    assert bridge.place(-1) == Place(0, 8)
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
