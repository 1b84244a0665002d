"""The frame of every page: escaped, and empty parts left out."""

import pytest
from jinja2 import UndefinedError
from markupsafe import Markup

from tempo_coach.report.pages.page import MOST_ROWS, Figure, Table, _templates, legend, render
from tests.report.html import EVIL, check, read

SAFE = "&lt;script&gt;alert(&quot;x&quot;)&lt;/script&gt; &amp; &quot;Zoë&quot; 🤸"
SVG = Markup('<svg viewBox="0 0 1 1"></svg>')
PARTS = _templates().get_template("parts.html").module


def words(part):
    return [word for word in map(str.strip, read(part).words) if word]


def test_a_page_has_its_title_twice_and_lines_that_say_something():
    page = render("page.html", title=EVIL, about=("", EVIL, ""))
    check(page)
    assert page.count(f"<title>{SAFE}</title>") == page.count(f"<h1>{SAFE}</h1>") == 1
    assert page.count('<p class="about">') == 1
    check(render("page.html", title="", about=()))


def test_a_value_that_a_template_names_has_to_be_given():
    with pytest.raises(UndefinedError):
        render("page.html", title="")


def test_controls_are_shown_and_numbers_stand_as_they_are():
    page = render("page.html", title="a\x1b[31m", about=(3,))
    assert "<h1>a␛[31m</h1>" in page and '<p class="about">3</p>' in page


@pytest.mark.parametrize(
    "part",
    [
        PARTS.say(EVIL),
        PARTS.numbers([(EVIL, EVIL, EVIL)]),
        PARTS.items(EVIL, [EVIL]),
        PARTS.table(Table((EVIL,), ((EVIL,),))),
        PARTS.legend(legend((EVIL, EVIL))),
        PARTS.figures([Figure(EVIL, EVIL, SVG, Table((EVIL,), ((EVIL,),)))], name=EVIL),
    ],
    ids=["say", "numbers", "items", "table", "legend", "figures"],
)
def test_what_is_written_is_escaped_everywhere(part):
    assert set(words(part)) - {"Numbers"} == {EVIL}
    assert "<script>" not in part


def test_numbers_stand_with_their_names_and_what_is_under_them():
    assert words(PARTS.numbers([("spread", "20 ms", "n 16"), ("drift", "–", "")])) == [
        "spread",
        "20 ms",
        "n 16",
        "drift",
        "–",
    ]


def test_a_list_without_lines_is_nothing():
    assert PARTS.items("Notes", []).strip() == ""
    assert words(PARTS.items("Notes", ["a", "b"])) == ["Notes", "a", "b"]
    assert 'class="small"' in PARTS.items("x", ["a"], small=True) and "small" not in PARTS.items("x", ["a"])


def test_figures_without_a_picture_are_left_out_and_with_them_their_heading():
    none = Figure("none", "", "", Table(("a",), ()))
    one = Figure("one", "how to read it", SVG, Table(("a",), (("b",),)))
    assert PARTS.figures([none], name="Parts").strip() == PARTS.figures([], name="Parts").strip() == ""
    assert words(PARTS.figures([none, one], name="Parts")) == ["Parts", "one", "how to read it", "Numbers", "a", "b"]
    assert "<h2>" not in PARTS.figures([one])


@pytest.mark.parametrize(("rows", "more"), [(0, 0), (MOST_ROWS, 0), (MOST_ROWS + 1, 1), (MOST_ROWS + 30, 30)])
def test_a_long_table_is_cut_and_says_by_how_much(rows, more):
    part = PARTS.table(Table(("n",), [(str(k),) for k in range(rows)]))
    assert part.count("<tr>") == 1 + min(rows, MOST_ROWS)
    assert (f"{more} more rows are in the JSON." in part) == bool(more)
    assert ("JSON" in part) == bool(more)


def test_one_hand_needs_no_legend():
    assert legend(()) == legend(("right",)) == []
    assert PARTS.legend([]).strip() == ""
    assert words(PARTS.legend(legend(("right", "left")))) == ["right", "left"]
    assert PARTS.legend(legend(("a", "b", "c"))).count("<svg") == 3
