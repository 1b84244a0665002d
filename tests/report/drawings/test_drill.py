"""A drill in text: every sign under its count, and no line wider than asked."""

import pytest

from tempo_coach import coach
from tempo_coach.pattern.drill.drill import Drill
from tempo_coach.pattern.drill.drill_file import list_drills, read_drill
from tempo_coach.pattern.drill.pattern import Hand, Moment, Pattern, Phase
from tempo_coach.report.drawings.drill import draw_drill, draw_pattern

ROPE = coach.load_drill("rope_figure_eight", mirrored=False)


def pattern(*phases, counts=4.0, moments=((0.0, "circle"),), name="right"):
    hand = Hand(name, tuple(Moment(at, f"m{k}", kind) for k, (at, kind) in enumerate(moments)))
    return Pattern(counts, phases, (hand,))


def test_signs_stand_under_their_counts_and_phases():
    # 52 columns behind the names: 13 a count
    made = pattern(
        Phase("low", 0, 1), Phase("high", 1, 4), moments=((0, "release"), (1.5, "circle"), (2, "catch"), (3, "contact"))
    )
    counts, phases, right = draw_pattern(made, width=65)
    assert [counts[13:].index(digit) for digit in "1234"] == [0, 13, 26, 39]
    assert phases == f"{'phases':13}│low{'─' * 9}│high{'─' * 34}"
    assert right[:13] == "right        "
    assert {at: sign for at, sign in enumerate(right[13:]) if sign != "·"} == {0: "▲", 19: "●", 26: "▼", 39: "■"}
    assert len(phases) == len(right) == 65


def test_what_falls_behind_the_cycle_is_drawn_where_the_next_one_has_it():
    (row,) = draw_pattern(pattern(moments=((1, "circle"), (4.5, "circle"))), width=65)[1:]
    assert [(at, sign) for at, sign in enumerate(row[13:]) if sign in "●○"] == [(6, "○"), (13, "●")]


@pytest.mark.parametrize("width", [60, 78, 120])
def test_phases_shorter_than_a_column_leave_the_row_as_wide_as_it_is(width):
    made = pattern(
        Phase("a long name", 0, 0.05), Phase("b", 0.05, 0.1), Phase("c", 0.1, 0.11), Phase("d", 0.11, 8), counts=8.0
    )
    assert {len(row) for row in draw_pattern(made, width=width)[1:]} == {width}


def test_a_cycle_that_ends_inside_a_count_has_that_count():
    assert draw_pattern(pattern(counts=2.5), width=63)[0].split() == ["counts", "1", "2", "3"]
    assert draw_pattern(pattern(counts=2.0), width=63)[0].split() == ["counts", "1", "2"]


@pytest.mark.parametrize("width", [60, 78])
def test_no_line_is_wider_than_asked_however_long_the_words(width):
    words = "rather many words " * 12
    kinds = tuple((k / 4, f"kind number {k} of it") for k in range(12))
    made = Drill(
        "x", words, words, pattern(Phase(words, 0, 4), moments=kinds, name="a hand of a long name"),
        trains=words, caution=words, notes=words, source=words, faults=((words, words),),
    )  # fmt: skip
    text = draw_drill(made, width=width)
    assert max(map(len, text.splitlines())) <= width
    for name in ("trains", "caution", "notes", "source"):
        assert f"\n{name}: rather" in text
    assert "\nif rather many" in text


def test_a_drill_is_told_with_its_moments_and_tempi():
    lines = draw_drill(ROPE).splitlines()
    slow, fast = ROPE.practice.tempi_bpm
    assert lines[0] == f"{ROPE.title}  (rope, a cycle of 4 counts)"
    assert "● circle" in lines
    assert f"tempo: usually {ROPE.practice.tempo_bpm:g} beats a minute, {slow:g} to {fast:g}" in lines
    assert "right: low on 1&; high 1 on 3e; high 2 on 3a (side, forward)" in lines


def test_small_circles_on_a_bigger_one_are_told_both_ways():
    carried = next(made for made in map(read_drill, list_drills()) if made.pattern.carried)
    rounds = carried.pattern.carried
    assert rounds is not None
    room, arm = rounds.in_frame("room"), rounds.in_frame("arm")
    assert room != arm  # on the arm it is one circle more, or one less
    assert f"{room} small circles to each bigger one as the room sees it, {arm} as the arm feels it" in " ".join(
        draw_drill(carried).split()
    )
    assert "carried round" not in draw_drill(ROPE)


def test_what_the_first_cycle_does_not_ask_for_is_said_where_it_is_drawn_and_told_on_its_count():
    drill = coach.load_drill("clubs_mills")
    text = draw_drill(drill)
    (row,) = (line for line in text.splitlines() if line.startswith("left  "))
    assert row[13:].startswith("○ from cycle 2·") and "●" not in row
    assert "hollow: of the cycle before" in text and "left: circle on 3, behind the cycle's 2 counts" in text
    assert "hollow" not in draw_drill(coach.load_drill("rope_figure_eight"))
