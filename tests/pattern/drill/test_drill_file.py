"""Drills in files: read whole, and every mistake named with its line."""

import re

import pytest

from tempo_coach.errors import CoachErrors
from tempo_coach.pattern.drill.drill_file import find_drill, list_drills, pattern_data, read_drill
from tempo_coach.report.words.errors import say_error
from tests.refused import refused

GOOD = """\
title = "Mills"
apparatus = "clubs"

[practice]
tempo = 90
allowance_pct = 5

[cycle]
counts = 2

[[phase]]
name = "circle"
start = "1"
end = "3"
circles = 1

[[hand]]
name = "right"

[[hand]]
name = "left"
lag = 1
"""


@pytest.fixture
def write(tmp_path):
    def write_drill(text, name="mills.toml"):
        path = tmp_path / name
        path.write_text(text, encoding="utf-8")
        return path

    return write_drill


def test_a_drill_is_read_with_everything_it_says(write):
    drill = read_drill(write(GOOD))
    assert (drill.name, drill.title, drill.apparatus) == ("mills", "Mills", "clubs")
    assert drill.practice.tempo_bpm == 90
    assert drill.allowance == pytest.approx(0.05)
    assert [m.at for hand in drill.pattern.hands for m in hand.moments] == [1, 2]


def test_moments_by_hand_and_own_circles_are_read(write):
    text = GOOD.replace(
        'name = "left"\nlag = 1', 'name = "left"\ncircles = { circle = 2 }\n[[hand.moment]]\nat = "2&"\nlabel = "x"'
    )
    left = read_drill(write(text)).pattern.hands[1]
    assert [(m.at, m.label) for m in left.moments] == [(1.5, "x")]


def test_three_mistakes_are_reported_at_once_with_their_lines(write):
    text = GOOD.replace('"clubs"', '"club"').replace("counts = 2", "counts = -2").replace('start = "1"', 'start = "x"')
    path = write(text)
    with pytest.raises(CoachErrors) as caught:
        read_drill(path)
    places = re.findall(r"mills\.toml:(\d+): ([\w.]+)", say_error(caught.value))
    assert places == [("2", "apparatus"), ("9", "cycle.counts"), ("13", "phase.start")]
    assert "did you mean clubs?" in say_error(caught.value)


@pytest.mark.parametrize(
    ("old", "new", "line", "words"),
    [
        ("circles = 1", "circels = 1", 15, "did you mean circles?"),
        ("circles = 1", "circles = 1.5", 15, "whole number from 0 to 32, got 1.5"),
        ('end = "3"', 'end = "1"', 14, "end after it starts"),
        ('end = "3"', 'end = "4"', 14, "inside the cycle of 2 counts"),
        ('name = "left"', 'name = "right"', 21, "each hand once"),
        ('title = "Mills"\n', "", 1, "expected the entry title"),
        ('title = "Mills"', "title = 3", 1, "words in quotes, got 3"),
        ("counts = 2", "counts = nan", 9, "number from 0.25 to 64"),
        ('"clubs"', '"clubs"\nworn_at = "ankle"', 3, "a list of none or some of"),
        ('"clubs"', '"clubs"\nworn_at = ["forarm"]', 3, "did you mean forearm?"),
        ("lag = 1", 'lag = 1\n[[hand.moment]]\nlabel = "x"', 23, "expected the entry at"),
        ("[practice]\ntempo = 90\nallowance_pct = 5", "practice = 3", 4, "expected a table"),
        ("[cycle]\ncounts = 2", '[cycle]\ncounts = 2\nrestart = "bar"', 10, "never or eight"),
        ("circles = 1", 'circles = 1\n[[phase]]\nname = "circle"\nstart = "3"\nend = "3"', 17, "each phase once"),
        (
            "circles = 1",
            'circles = 1\n[[phase]]\nname = "more"\nstart = "2"\nend = "3"',
            18,
            "where the one before ends",
        ),
        ("[cycle]", "[caried]\ncircles = 3\n[cycle]", 8, "did you mean carried?"),
        ("circles = 1", "circles = 0", 18, "at least one circle or moment"),
        ("lag = 1", "lag = 1\ncircles = { circel = 2 }", 23, "did you mean circle?"),
        ("[cycle]", '[carried]\ncircles = 1\nframe = "arm"\nsense = "opposite"\n[cycle]', 9, "on the arm"),
    ],
)
def test_each_mistake_names_its_line_and_what_was_expected(write, old, new, line, words):
    assert old in GOOD
    path = write(GOOD.replace(old, new))
    with pytest.raises(CoachErrors) as caught:
        read_drill(path)
    assert f"{path}:{line}: " in say_error(caught.value)
    assert words in say_error(caught.value)


def test_a_drill_without_hands_is_refused(write):
    with refused(error=CoachErrors, match="at least one hand"):
        read_drill(write(GOOD[: GOOD.index("[[hand]]")]))


@pytest.mark.parametrize(
    ("content", "words"),
    [(b"title = ", r":1: .*invalid"), (b"\x89PNG\x00\xff", "no text"), (b"a = 1\na = 2\n", ":2: ")],
)
def test_what_is_not_toml_gets_one_sentence(tmp_path, content, words):
    path = tmp_path / "bad.toml"
    path.write_bytes(content)
    with refused(words) as caught:
        read_drill(path)
    assert "\n" not in say_error(caught.value)


def test_a_drill_is_found_by_name_or_path_and_a_near_miss_is_suggested(write):
    assert find_drill("clubs_mills").name == "clubs_mills.toml"
    path = write(GOOD)
    assert find_drill(str(path)) == path
    with refused("did you mean clubs_mills"):
        find_drill("club_mills")
    with refused("no such file"):
        read_drill(find_drill("gone.toml"))


def test_every_drill_that_comes_with_the_program_is_whole():
    drills = [read_drill(path) for path in list_drills()]
    assert len(drills) >= 4
    for drill in drills:
        assert drill.title and drill.trains and drill.source and drill.caution
        slow, fast = drill.practice.tempi_bpm
        assert slow <= drill.practice.tempo_bpm <= fast


def test_no_phone_is_worn_where_something_flies_or_rolls_or_above_the_head():
    """Common practice: nothing hard on a gymnast who rolls, or under what comes down."""
    for path in list_drills():
        drill = read_drill(path)
        assert drill.worn_at is not None, path
        words = f"{drill.title} {drill.notes}".lower()
        if any(word in words for word in ("toss", "flip", "boomerang", "overhead", "roll on the floor", "a roll,")):
            assert drill.worn_at == (), path
        else:
            assert "forearm" in drill.worn_at, path


def test_the_mills_ask_for_half_a_circle_and_equal_circles():
    # common practice: equal circles of both clubs, the second follows the first; half a circle: from memory
    pattern = read_drill(find_drill("clubs_mills")).pattern
    assert pattern.asked_lags_deg(pattern.hands[1]) == (pytest.approx(180),)
    assert pattern.cycle_counts == 2


def test_what_a_plan_keeps_is_the_movement_alone(write):
    assert set(pattern_data(write(GOOD))) == {"cycle", "phase", "hand"}
