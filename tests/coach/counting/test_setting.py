"""Setting counts step by step, as values: each step can be taken back, and what is not saved is known."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tempo_coach.coach.counting import edits
from tempo_coach.coach.counting import edits as moving
from tempo_coach.coach.counting.setting import (
    EightRow,
    begin,
    do,
    do_again,
    note_saved,
    row_with,
    rows_of,
    take_back,
    turn_to,
)
from tempo_coach.coach.notices import tell
from tempo_coach.music.beats.finder import Doubt
from tempo_coach.music.counts.corrections import Correction, replay
from tempo_coach.music.counts.count_map import CountMap, Position
from tempo_coach.music.files.sound import Sound
from tempo_coach.pattern.routine.routine import Laid, MusicFile, Remark, Routine
from tempo_coach.reasons import Reason, Why

FOUND = CountMap(1 + 0.5 * np.arange(40), ((3, 8), (11, 8), (19, 8), (27, 8), (35, 8)))
DOUBTS = (Doubt(6.0, Reason(Why.TEMPO_JUMPS)), Doubt(12.0, Reason(Why.BEAT_MISSING)))
SILENCE = Sound(np.zeros((22 * 8000, 1)), 8000)
ROUTINE = Routine("an invented one", MusicFile("invented.wav"))


@pytest.fixture
def setting():
    return begin(FOUND, ROUTINE, duration=22.0, doubts=DOUBTS, saved=True)


def place(setting):
    return setting.counts.place(setting.beat - setting.counts.eights[0][0])


def test_the_rows_are_what_leads_up_and_then_the_eights():
    rows = rows_of(FOUND)
    assert rows[0] == EightRow(0, 0, 3, 3)
    assert rows[1] == EightRow(1, 3, 8, 8)
    assert rows[-1] == EightRow(5, 35, 8, 5)
    assert [row_with(rows, beat) for beat in (0, 3, 10, 11, 39)] == [0, 1, 1, 2, 5]
    assert rows_of(CountMap(np.arange(30), ((19, 8),)))[:3] == [
        EightRow(0, 0, 3, 3),
        EightRow(0, 3, 8, 8),
        EightRow(0, 11, 8, 8),
    ]


@pytest.mark.parametrize(
    ("ways", "beat"),
    [
        (["right"], 4),
        (["left"], 2),
        (["down"], 11),
        (["down", "right", "up"], 4),
        (["up"], 0),
        (["end"], 10),
        (["finish"], 39),
        (["finish", "home"], 35),
        (["start"], 0),
        (["end", "up"], 2),
        (["finish", "right"], 39),
        (["start", "left"], 0),
    ],
)
def test_going_about(setting, ways, beat):
    for way in ways:
        setting = moving.go(setting, way)
    assert setting.beat == beat
    assert not setting.unsaved


def test_doubtful_places_are_gone_to_in_turn_and_go_only_when_something_is_said(setting):
    setting = moving.go(setting, "doubt")
    assert (setting.time, setting.news) == (6.0, Reason(Why.DOUBT, (DOUBTS[0].reason, None, 2)))
    assert setting.doubt_here == DOUBTS[0]
    setting = moving.go(setting, "doubt")
    assert (setting.time, setting.news) == (12.0, Reason(Why.DOUBT, (DOUBTS[1].reason, None, 2)))
    assert moving.go(setting, "doubt").time == 6.0  # round the end
    assert moving.go(setting, "doubt_before").time == 6.0
    assert len(setting.open_doubts) == 2  # they were only stepped over
    setting = moving.call_right(setting)
    assert setting.news == Reason(Why.CALLED_RIGHT, (1,)) and setting.open_doubts == (DOUBTS[0],)
    assert setting.doubt_here is None
    assert moving.call_right(setting).news == Reason(Why.NOTHING_DOUBTED)
    assert moving.go(begin(FOUND, ROUTINE, duration=22.0), "doubt").news == Reason(Why.NO_DOUBT)


def test_a_doubt_comes_back_with_what_settled_it_taken_back(setting):
    setting = moving.go(setting, "doubt")
    after = do(setting, Correction("move", setting.time, to=setting.time + 0.02))
    assert DOUBTS[0] not in after.open_doubts
    assert DOUBTS[0] in take_back(after).open_doubts
    assert DOUBTS[0] not in do_again(take_back(after)).open_doubts


def test_half_or_double_is_settled_by_taking_one_of_them(setting):
    doubt = Doubt(8.0, Reason(Why.TWO_LEVELS, (2.0, 120)))
    setting = begin(FOUND, ROUTINE, duration=22.0, doubts=[doubt, *DOUBTS])
    assert doubt not in moving.count_at(setting, 2.0).open_doubts


def test_a_correction_is_made_said_and_settles_the_doubt_beside_it(setting):
    setting = moving.go(setting, "doubt")
    setting = do(setting, Correction("one", setting.time))
    assert place(setting) == Position(1, 1)  # inside the first eight: what comes before is not counted
    assert setting.news == Reason(Why.CORRECTED, (Correction("one", 6.0),))
    assert setting.unsaved and not setting.failed
    assert [doubt.time for doubt in setting.open_doubts] == [12.0]


def test_what_cannot_be_done_is_said_and_changes_nothing(setting):
    after = edits.pause_here(setting)
    assert after.failed and "no room for a pause" in tell(after.news)
    assert after.routine is setting.routine and after.counts is setting.counts and not after.past
    so_already = do(setting, Correction("one", setting.time))
    assert so_already.news == Reason(Why.SO_ALREADY) and not so_already.unsaved


def test_taking_back_and_doing_again_lead_through_every_step(setting):
    begun = setting
    steps = [setting]
    for correction in (Correction("one", 6.0), Correction("drop", 8.0), Correction("length", 12.0, counts=4)):
        steps.append(do(steps[-1], correction))
    back = steps[-1]
    for expected in reversed(steps[:-1]):
        back = take_back(back)
        np.testing.assert_array_equal(back.counts.beats, expected.counts.beats)
        assert back.counts.eights == expected.counts.eights
        assert back.news.code is Why.TAKEN_BACK
    assert not back.unsaved and take_back(back).news == Reason(Why.NOTHING_TO_TAKE_BACK)
    for expected in steps[1:]:
        back = do_again(back)
        assert back.routine == expected.routine
    assert do_again(back).news == Reason(Why.NOTHING_TO_DO_AGAIN)
    other = do(take_back(back), Correction("add", 1.25))
    assert not other.future
    assert begun.counts is setting.counts


def test_saving_is_known_and_taking_back_past_it_is_unsaved_again(setting):
    setting = do(setting, Correction("drop", 8.0))
    setting = note_saved(setting, setting.routine, "x.toml")
    assert not setting.unsaved and setting.news == Reason(Why.SAVED_IN, ("x.toml",))
    back = take_back(setting)
    assert back.unsaved and not do_again(back).unsaved


def test_several_small_moves_of_one_count_are_one_correction_and_each_is_taken_back_alone(setting):
    for _ in range(3):
        setting = edits.move(setting, edits.STEP)
    assert setting.time == pytest.approx(2.53)
    assert [(each.at, each.to) for each in setting.routine.corrections] == [(2.5, 2.53)]
    assert take_back(setting).time == pytest.approx(2.52)
    for _ in range(3):
        setting = edits.move(setting, -edits.STEP)
    assert setting.routine.corrections == () and setting.time == 2.5
    np.testing.assert_array_equal(setting.counts.beats, FOUND.beats)


def test_half_and_double_everywhere_and_in_a_marked_stretch(setting):
    half = edits.count_at(setting, 0.5)
    np.testing.assert_allclose(np.diff(half.counts.beats), 1.0)
    again = edits.count_at(half, 2.0)
    np.testing.assert_allclose(np.diff(again.counts.beats), 0.5)
    marked = moving.put_mark(setting)
    for _ in range(8):
        marked = moving.go(marked, "right")
    assert marked.stretch == (2.5, 6.5)
    part = edits.count_at(marked, 2.0)
    assert part.counts.beats.size == FOUND.beats.size + 9
    assert part.mark is None
    assert edits.count_at(moving.put_mark(setting), 2.0).failed


def test_a_mark_is_put_moved_and_taken_away(setting):
    marked = moving.put_mark(setting)
    assert marked.mark == marked.time
    assert moving.put_mark(moving.go(marked, "right")).mark == 3.0
    assert moving.put_mark(marked).mark is None and moving.clear_mark(marked).mark is None


def test_a_pause_over_a_stretch_and_counts_through_it(setting):
    marked = moving.put_mark(moving.go(setting, "end"))
    for _ in range(4):
        marked = moving.go(marked, "right")
    paused = edits.pause_here(marked)
    assert paused.counts.pauses == ((6.5, 8.0),)
    assert paused.counts.beats.size == FOUND.beats.size - 3
    on = edits.count_on(moving.go_to_beat(paused, 10), SILENCE)
    np.testing.assert_allclose(on.counts.beats, FOUND.beats)
    assert on.counts.pauses == ()
    assert (
        edits.count_on(moving.go(setting, "finish"), SILENCE).failed
        and edits.pause_here(moving.go(setting, "finish")).failed
    )


def test_a_count_more_comes_halfway_or_behind_the_last_one(setting):
    more = edits.add_count(setting)
    assert more.time == 2.75
    last = edits.add_count(moving.go(setting, "finish"))
    assert last.time == 21.0
    assert edits.add_count(edits.add_count(edits.add_count(last))).failed  # the music ends at 22 s


def lay(setting, laid):
    return turn_to(setting, setting.routine.with_laid(laid), setting.counts)


def test_drills_are_laid_replaced_carried_with_their_music_and_taken_off(setting):
    laid = lay(setting, Laid("clubs_mills", Position(3, 1), eights=2))
    laid = lay(laid, Laid("ball_flip", Position(3, 1), hand="left"))
    assert [each.drill for each in laid.routine.laid] == ["clubs_mills", "ball_flip"]
    replaced = lay(laid, Laid("ball_flip", Position(3, 1)))
    assert [each.drill for each in replaced.routine.laid] == ["ball_flip"]
    later = do(laid, Correction("first", 2.5 + 4.0))  # one eight less is counted
    assert later.routine.laid[0].at == Position(2, 1)
    assert take_back(later).routine.laid[0].at == Position(3, 1)
    off = edits.take_off(moving.go_to_beat(laid, 27))  # the second of its two eights
    assert [each.drill for each in off.routine.laid] == ["ball_flip"]
    assert edits.take_off(setting).news == Reason(Why.NOTHING_LAID)
    assert off.unsaved


def test_corrections_that_found_no_place_on_counts_found_anew_are_said():
    routine = Routine("x", MusicFile("x.wav"), corrections=(Correction("drop", 90.0),), remarks=(Remark(2, "up"),))
    setting = begin(FOUND, routine, duration=22.0, saved=True)
    assert setting.failed and "count dropped at 1:30.00" in tell(setting.news)
    assert setting.lost


STEPS = {
    "left": lambda s: moving.go(s, "left"),
    "right": lambda s: moving.go(s, "right"),
    "down": lambda s: moving.go(s, "down"),
    "doubt": lambda s: moving.go(s, "doubt"),
    "mark": moving.put_mark,
    "one": lambda s: do(s, Correction("one", s.time)),
    "first": lambda s: do(s, Correction("first", s.time)),
    "four": lambda s: do(s, Correction("length", s.time, counts=4)),
    "half": lambda s: edits.count_at(s, 0.5),
    "double": lambda s: edits.count_at(s, 2.0),
    "later": lambda s: edits.move(s, edits.BIG_STEP),
    "earlier": lambda s: edits.move(s, -edits.STEP),
    "add": edits.add_count,
    "drop": lambda s: do(s, Correction("drop", s.time)),
    "pause": edits.pause_here,
    "through": lambda s: edits.count_on(s, SILENCE),
    "cut": lambda s: do(s, Correction("cut", s.time)),
    "back": take_back,
    "again": do_again,
}


@given(st.lists(st.sampled_from(sorted(STEPS)), max_size=25))
def test_after_any_keys_the_counts_are_those_of_the_corrections_and_all_can_be_taken_back(keys):
    setting = begin(FOUND, ROUTINE, duration=22.0, doubts=DOUBTS, saved=True)
    for key in keys:
        setting = STEPS[key](setting)
        assert 0 <= setting.beat < setting.counts.beats.size
    made = replay(FOUND, setting.routine.corrections)
    assert not made.lost
    np.testing.assert_allclose(made.counts.beats, setting.counts.beats, atol=1e-6)
    assert made.counts.eights == setting.counts.eights
    while setting.past:
        setting = take_back(setting)
    np.testing.assert_array_equal(setting.counts.beats, FOUND.beats)
    assert not setting.unsaved
