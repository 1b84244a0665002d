"""The page of a take: its pictures, its figures, and takes with little in them."""

import pytest

from tempo_coach.observe.onsets import Onsets, Take
from tempo_coach.report.take_page import take_page
from tempo_coach.score.card import judge
from tests.history.season import lay, make_take
from tests.report.pages import EVIL, check


def test_the_page_of_a_take_has_its_pictures_and_their_tables():
    page = take_page(judge(make_take(1, cycles=24)), athlete=EVIL, begun="2031-05-04T18:15", notes=[EVIL])
    reader = check(page)
    assert EVIL in "".join(reader.words)
    for name in ("Length of each cycle", "Early and late", "Places on the cycle", "Right against left", "By eight"):
        assert name in page
    assert "prefers-color-scheme: dark" in page
    assert "size: A4" in page
    assert "no judge" in page


@pytest.mark.parametrize(
    ("onsets", "said"), [([], "Nothing to tell"), ([6.1], ""), ([0.1, 0.2], "Nothing to tell"), ([6.0] * 50, "")]
)
def test_takes_with_little_in_them_have_a_page(onsets, said):
    plan = lay()
    take = Take(plan, Onsets.unsorted(onsets, ["right"] * len(onsets)))
    page = take_page(judge(take))
    check(page)
    assert said in page


def test_a_take_of_one_hand_has_no_picture_of_hands():
    page = take_page(judge(make_take(1, drill="rope_figure_eight")))
    check(page)
    assert "against left" not in page
    assert 'class="h1"' not in page
