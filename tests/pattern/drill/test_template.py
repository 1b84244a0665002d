"""A new drill from the least that has to be said reads back as what was meant."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tempo_coach.pattern.drill.drill_file import APPARATUS, read_drill
from tempo_coach.pattern.drill.template import read_circles, write_new_drill
from tests.refused import refused

EIGHT = {"low": 1, "rise": 0, "high": 2, "fall": 0}


def read_back(folder, text):
    file = folder / "mine.toml"
    file.write_text(text, encoding="utf-8")
    return read_drill(file)


def test_the_least_that_is_said_makes_a_drill_that_reads_back(tmp_path):
    drill = read_back(tmp_path, write_new_drill(title="My eight", apparatus="rope", counts=4, circles=EIGHT))
    taught = [0.5, 2.25, 2.75]
    assert [moment.at for moment in drill.pattern.hands[0].moments] == taught
    assert [phase.name for phase in drill.pattern.phases] == list(EIGHT)
    assert drill.title == "My eight"
    assert drill.caution


def test_a_second_hand_trails_the_first(tmp_path):
    text = write_new_drill(
        title="Mills", apparatus="clubs", counts=2, circles={"circle": 1}, hands=("right", "left"), lag=1
    )
    right, left = read_back(tmp_path, text).pattern.hands
    assert left.moments[0].at - right.moments[0].at == 1
    assert "clear space and a coach" in text


def test_each_further_hand_trails_the_one_before(tmp_path):
    text = write_new_drill(
        title="Three", apparatus="clubs", counts=4, circles={"circle": 1}, hands=("a", "b", "c"), lag=0.5
    )
    assert [hand.moments[0].at for hand in read_back(tmp_path, text).pattern.hands] == [2, 2.5, 3]


@given(
    st.sampled_from(APPARATUS),
    st.sampled_from([2, 3, 4, 6, 7, 8]),
    st.lists(st.integers(0, 5), min_size=1, max_size=6).filter(any),
    st.sampled_from([("right",), ("left", "right"), ("first club", "second club")]),
)
def test_whatever_is_said_reads_back(tmp_path_factory, apparatus, counts, numbers, hands):
    circles = {f"phase {k}": number for k, number in enumerate(numbers)}
    text = write_new_drill(title="Mine", apparatus=apparatus, counts=counts, circles=circles, hands=hands, lag=0.5)
    drill = read_back(tmp_path_factory.mktemp("drill"), text)
    assert [len(hand.moments) for hand in drill.pattern.hands] == [sum(numbers)] * len(hands)
    assert drill.pattern.cycle_counts == counts
    assert drill.pattern.phases[-1].end == pytest.approx(counts, abs=1e-5)


def test_every_line_that_may_be_changed_says_how():
    text = write_new_drill(title="My eight", apparatus="rope", counts=4, circles=EIGHT)
    assert sum("#" in line for line in text.splitlines()) >= 18


@pytest.mark.parametrize(
    ("said", "found"),
    [
        ("low 1, rise, high 2, fall", EIGHT),
        ("low=1,rise=0,high=2,fall=0", EIGHT),
        ("wrist over 3", {"wrist over": 3}),
    ],
)
def test_circles_are_said_on_one_line(said, found):
    assert read_circles(said) == found


@pytest.mark.parametrize(
    ("said", "wrong"),
    [
        ("", "expected a phase and its circles"),
        ("low 1,,high 2", "expected a phase and its circles"),
        ("3", "expected a phase and its circles, got '3'"),
        ("low 1, low 2", "each phase once"),
        ("low 1.5", "0 to 32 whole circles in low, got 1.5"),
        ("low -1", "0 to 32 whole circles"),
        ("low 40", "0 to 32 whole circles"),
        ("low, high", "at least one circle"),
    ],
)
def test_circles_that_cannot_be_read(said, wrong):
    with refused(wrong):
        read_circles(said)


@pytest.mark.parametrize(
    ("changed", "wrong"),
    [
        ({"apparatus": "hop"}, "did you mean hoop"),
        ({"counts": 0}, "cycle of 0.25 to 64 counts"),
        ({"counts": float("nan")}, "cycle of 0.25 to 64 counts"),
        ({"circles": {"low": 0}}, "at least one circle"),
        ({"hands": ("right", "right")}, "each hand once"),
        ({"hands": ()}, "each hand once, got none"),
        ({"title": 'a "b"'}, "without quotes"),
        ({"title": " "}, "plain words"),
        ({"lag": float("inf")}, "lag of a few counts"),
    ],
)
def test_what_has_to_be_said_differently(changed, wrong):
    usual = {"title": "Mine", "apparatus": "rope", "counts": 4, "circles": EIGHT}
    with refused(wrong):
        write_new_drill(**(usual | changed))
