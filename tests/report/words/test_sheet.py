"""The count sheet: every eight with its counts, hands and pauses, and as text."""

import re

import numpy as np

from tempo_coach.music.counts.count_map import CountMap, Position
from tempo_coach.pattern.drill.count_names import say_count
from tempo_coach.pattern.routine.routine import Laid, Remark, RoutineMoment, Steps
from tempo_coach.report.words.sheet import make_sheet, sheet_lines, sheet_text
from tests.report.sheets import COUNTS, DURATION, full, load, routine


def rows_of(**more):
    return make_sheet(routine(**more), COUNTS, DURATION, load).rows


def test_every_eight_has_its_time_tempo_length_and_pause():
    rows = rows_of()
    assert [row.number for row in rows] == [1, 2, 3, 4, 5, 6]
    np.testing.assert_allclose([row.start for row in rows], [0, 4, 8, 12, 16, 20.8])
    np.testing.assert_allclose([row.tempo_bpm for row in rows], [120, 120, 120, 120, 100, 100])
    assert [len(row.lengths) for row in rows] == [8, 8, 8, 4, 8, 8]
    assert [row.change for row in rows] == ["", "", "", "", "slower", ""]
    assert rows[3].pauses == ((4.0, 2.0),)
    assert (rows[0].first, rows[5].last) == (2.0, 7.0)


def test_hands_stand_on_the_counts_of_their_moments():
    # mills half a circle apart: both clubs have the same period, the second trails (common practice)
    rows = rows_of(laid=(Laid("clubs_mills", Position(2, 1), 1),))
    right, left = rows[1].hands
    assert (right.hand, left.hand) == ("right", "left")
    assert [mark.at for mark in right.marks] == [1, 3, 5, 7]
    assert [mark.at for mark in left.marks] == [2, 4, 6]
    assert [mark.at for mark in rows[2].hands[0].marks] == [0]  # the left one's last circle ends behind the eight
    assert right.begins and not rows[2].hands[0].begins


def test_one_hand_a_mirrored_drill_and_a_begin_inside_an_eight():
    one = rows_of(laid=(Laid("clubs_mills", Position(2, 1), 1, hand="left"),))
    assert [hand.hand for hand in one[1].hands] == ["left"]
    mirrored = rows_of(laid=(Laid("clubs_mills", Position(2, 1), 1, mirrored=True),))
    assert [hand.hand for hand in mirrored[1].hands] == ["left", "right"]
    late = rows_of(laid=(Laid("rope_figure_eight", Position(2, 5), 1),))
    # one wrist circle low and two high in each cycle of four counts (common practice)
    assert [mark.at for mark in late[1].hands[0].marks] == [4.5, 6.25, 6.75]
    assert [mark.at for mark in late[2].hands[0].marks] == [0.5, 2.25, 2.75]


def test_tosses_steps_and_remarks_are_where_they_belong():
    rows = rows_of(
        moments=(
            RoutineMoment("toss", Position(3, 7.5), "right", "high"),
            RoutineMoment("other", Position(3, 2), "", "bow"),
        ),
        steps=(Steps(Position(2, 5), Position(4, 3)),),
        remarks=(Remark(5, "wait"),),
    )
    assert rows[2].events == ((1.0, "bow"), (6.5, "toss right high"))
    assert rows[1].steps == ((4.0, 8.0, True),)
    assert rows[2].steps == ((0.0, 8.0, False),)
    assert rows[3].steps == ((0.0, 2.0, False),)
    assert rows[4].remarks == ("wait",)


def test_a_pause_before_the_first_count_and_one_inside_an_eight():
    beats = np.concatenate([[0.0, 0.5], 4 + 0.5 * np.arange(8)])
    rows = make_sheet(routine(), CountMap(beats, ((2, 8),), ((1.0, 4.0),)), 8.0, load).rows
    assert rows[0].pauses == ((0.0, 3.0),) and rows[0].start == 4.0


def test_the_text_keeps_to_eighty_columns_and_says_what_the_signs_mean():
    text = sheet_text(full())
    assert max(len(line) for line in text.splitlines()) <= 80
    assert re.search(r"(?m)^   5   0:16\.0    100 ↓    1     2", text)
    assert "after 4: pause of 2.0 s" in text
    assert "7&: toss right" in text
    assert "● right on 2 (circle)" in " ".join(text.split())
    assert text.count("dance steps") == 3


def test_read_out_every_eight_is_a_line_with_all_that_falls_on_it():
    sheet = full()
    told = sheet_lines(sheet)
    lines = [line for line in told.splitlines() if line.startswith("Eight ")]
    assert [int(re.match(r"Eight (\d+),", line).group(1)) for line in lines] == [row.number for row in sheet.rows]
    for line, row in zip(lines, sheet.rows, strict=True):
        for hand in row.hands:
            assert f"{hand.drill}, {hand.hand} on {', '.join(say_count(mark.at) for mark in hand.marks)}" in line
        for _, text in row.events:
            assert text in line
        assert line.count("dance steps") == len(row.steps) and line.count("pause") == len(row.pauses)
        assert all(remark in line for remark in row.remarks)
    assert not re.search("[─-◿~]", told)
