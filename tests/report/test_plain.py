"""Text without its drawings: words and figures stay."""

import pytest

from tempo_coach.report.plain import plain_text


@pytest.mark.parametrize(
    ("row", "left"),
    [
        ("Even and in time: 7 ms.", "Even and in time: 7 ms."),
        ("", ""),
        ("an ellipsis ... stays, and 1. too", "an ellipsis ... stays, and 1. too"),
        ("  indented  as  it was", "  indented  as  it was"),
        ("  ● circle   ▲ release", "   circle  release"),
        ("Ada     .....o.........|...............  -100 ms   22 ms", "Ada  -100 ms  22 ms"),
        ("phases  │low────│high───", "phases  low  high"),
        ("done                ╶●    ╶●──", ""),
        ("right  ····●·····", ""),
        ("right hand  ····●·····", ""),
        ("the right hand  ····●·····", "the right hand"),
        ("  1 m ⠁⠂ two three four", ""),
    ],
)
def test_a_row(row, left):
    assert plain_text(f"{row}") == left


def test_rows_that_were_drawings_go_altogether_and_others_keep_their_place():
    assert plain_text("one\n────\n\ntwo\n⠁⠁\nthree") == "one\n\ntwo\nthree"
