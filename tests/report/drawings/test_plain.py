"""Text without its drawings: words and figures stay."""

import pytest

from tempo_coach.report.drawings.plain import plain_row, plain_text


@pytest.mark.parametrize(
    ("row", "left"),
    [
        ("Even and in time: 7 ms.", "Even and in time: 7 ms."),
        ("", ""),
        ("an ellipsis ... stays, and 1. too", "an ellipsis ... stays, and 1. too"),
        ("  indented  as  it was", "  indented  as  it was"),
        ("  ● circle   ▲ release", None),
        ("● catch  ● circle  ▲ release  ■ contact", None),
        ("cycle  eight  hand   -25 %     |     +25 %  length", "cycle  eight  hand  length"),
        ("member  early          |           late  to group", "member  to group"),
        ("  eight   2    55 ms  ▪▪▪▪▪▪▪▪▪▪▪▪▪▪▪▪", "  eight  2  55 ms"),
        ("taught  □                       □        □", None),
        ("      ball                ●     ●     ●        ●", None),
        ("      dance steps         ~~~~~~~~~~~~~~~~~~~~~~", None),
        ("◆ cycle 10 is 7 % longer than its neighbours", " cycle 10 is 7 % longer than its neighbours"),
        ("a|b and 3 | 4 stay", "a|b and 3 | 4 stay"),
        ("Ada     .....o.........|...............  -100 ms   22 ms", "Ada  -100 ms  22 ms"),
        ("phases  │low────│high───", "phases  low  high"),
        ("done                ╶●    ╶●──", None),
        ("right  ····●·····", None),
        ("right hand  ····●·····", None),
        ("the right hand  ····●·····", "the right hand"),
        ("  1 m ⠁⠂ two three four", None),
    ],
)
def test_a_row(row, left):
    assert plain_row(row) == left
    assert plain_text(row) == (left or "")


def test_rows_that_were_drawings_go_altogether_and_others_keep_their_place():
    assert plain_text("one\n────\n\ntwo\n⠁⠁\nthree") == "one\n\ntwo\nthree"


def test_where_a_drawing_stood_between_two_empty_lines_one_is_left():
    assert plain_text("one\n\n────\n\ntwo") == "one\n\ntwo"
