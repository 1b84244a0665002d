"""What the music does where beats break off: an invented piece slows into a pause, and is cut to another piece."""

import numpy as np

from tempo_coach.coach.counting import edits
from tempo_coach.coach.counting.setting import beat_near, begin
from tempo_coach.music.beats.breaks import find_slowing, find_splices, is_silent, is_slower, period_before
from tempo_coach.music.beats.doubts import name_breaks
from tempo_coach.music.counts.corrections import replay
from tempo_coach.music.counts.count_map import CountMap
from tempo_coach.pattern.routine.routine import MusicFile, Routine
from tempo_coach.reasons import Reason, Why
from tests.ui.cut_music import EIGHTS, INTRODUCTION, compose

#: The beat on which the eight that slows begins, and the one before the pause.
SLOWS_AT = INTRODUCTION + 8 * (EIGHTS[0] - 1)
LAST_BEFORE = SLOWS_AT + 7
ROUTINE = Routine("invented", MusicFile("x.wav"))


def test_silence_is_silent_and_a_count_is_not():
    piece = compose()
    (pause,) = piece.counts.pauses
    beats = piece.counts.beats
    assert is_silent(piece.sound, float(beats[LAST_BEFORE]), pause[1])
    assert not is_silent(piece.sound, float(beats[SLOWS_AT]), float(beats[LAST_BEFORE]))


def test_counts_are_found_where_the_music_slows_down():
    piece = compose()
    beats = piece.counts.beats
    start, end = float(beats[SLOWS_AT + 1]), float(beats[LAST_BEFORE])
    found = find_slowing(piece.sound, start, end, period_before(beats, SLOWS_AT + 1))
    np.testing.assert_allclose(found, beats[SLOWS_AT + 2 : LAST_BEFORE], atol=0.03)
    assert is_slower(start, found, end)


def test_the_place_where_two_pieces_are_joined_is_found_and_no_other():
    piece = compose()
    (found,) = find_splices(piece.sound, piece.counts.beats, np.array([piece.cut]))
    assert abs(found - piece.cut) < 0.3


def test_a_doubt_is_named_by_what_the_music_does():
    piece = compose()
    beats = piece.counts.beats
    (pause,) = piece.counts.pauses
    gap = np.delete(beats, range(SLOWS_AT + 2, LAST_BEFORE))
    rest = (float(beats[LAST_BEFORE]), pause[1])
    slow = float(beats[SLOWS_AT + 1])
    doubts = [
        (slow, Reason(Why.BEAT_MISSING), None),
        (rest[0], Reason(Why.PAUSE, (2.6,)), None),
        (piece.cut, Reason(Why.TEMPO_JUMPS), None),
    ]
    named = name_breaks(doubts, gap, [rest], piece.sound)
    assert [reason.code for _, reason, _ in named] == [Why.SLOWS, Why.PAUSE, Why.SPLICE]
    sounding = name_breaks(
        [(slow, Reason(Why.PAUSE, (2.6,)), None)], gap, [(slow, float(gap[SLOWS_AT + 2]))], piece.sound
    )
    assert sounding[0][1].code is Why.SLOWS


def test_one_key_lays_slow_counts_where_it_slows_even_ones_in_silence_and_none_where_there_is_no_gap():
    piece = compose()
    beats = piece.counts.beats
    found = CountMap(np.delete(beats, range(SLOWS_AT + 2, LAST_BEFORE)), ((INTRODUCTION, 8),))
    before = begin(found, ROUTINE, duration=piece.sound.duration)

    def press(seconds):
        at = before.__class__(**{**vars(before), "beat": beat_near(found, seconds)})
        return edits.count_on(at, piece.sound)

    slower = press(float(beats[SLOWS_AT + 1]))
    assert slower.routine.corrections[-1].do == "slowing"
    np.testing.assert_allclose(slower.counts.beats[:LAST_BEFORE], beats[:LAST_BEFORE], atol=0.03)
    np.testing.assert_array_equal(replay(found, slower.routine.corrections).counts.beats, slower.counts.beats)
    silent = press(float(beats[LAST_BEFORE]))
    assert silent.routine.corrections[-1].do == "through" and silent.counts.beats.size > found.beats.size + 3
    none = press(float(beats[SLOWS_AT - 4]))
    assert none.failed and none.routine is before.routine
