"""The page of a take: its pictures, its figures, and takes with little in them."""

import math
import re
from dataclasses import replace

import numpy as np
import pytest

from tempo_coach.observe.take.onsets import Onsets, Take
from tempo_coach.reasons import Reason, Why
from tempo_coach.report.pages.take import MOST_TOLD, take_page
from tempo_coach.score.card import judge
from tempo_coach.score.measures.timekeeping import Measure
from tests.history.season import lay, make_take
from tests.report.html import EVIL, check, read
from tests.report.takes import MILLS, ROPE, card, late


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


def words(page):
    return [word for word in map(str.strip, read(page).words) if word]


def rows_behind(page, name):
    """The table behind a picture, as rows of words."""
    part = page.split(f"<h3>{name}</h3>")[1].split("</figure>")[0]
    rows = re.findall(r"<tr>(.*?)</tr>", part)
    return [re.findall(r"<t[hd]>(.*?)</t[hd]>", each) for each in rows]


def test_the_lines_at_the_top_say_who_when_how_much_and_how():
    made = card(MILLS, keep=range(1, 32), observed_by="film")
    told = words(take_page(made, athlete="Ada", begun="2031-05-04T18:15:59"))
    assert "Ada, 2031-05-04 18:15" in told
    assert "16 cycles, 100 beats a minute; 31 of 32 moments answered; observed by a film" in told
    at = told.index("missed, too many")
    assert told[at + 1] == "1, 0"
    bare = take_page(made)
    assert bare.count('<p class="about">') == 1
    music = replace(made, plan=replace(MILLS, tempo_bpm=None, speed=0.85, title=""))
    told = words(take_page(music))
    assert told[0] == "clubs_mills"
    assert any("16 cycles, to music at 85% of its speed; " in word for word in told)


@pytest.mark.parametrize(
    ("bias", "said", "under"),
    [
        (Measure(-12.6, 32, -15.2, -10.0), "13 ms early", "between -15 and -10, n 32"),
        (Measure(12.4, 32, 10.0, 15.2), "12 ms late", "between +10 and +15, n 32"),
        (Measure(-0.4, 32, -3.4, 2.6), "0 ms", "between -3 and +3, n 32"),
        (Measure(7.0, 2), "7 ms late", "n 2"),
        (Measure(math.nan, 0, reason=Reason(Why.NO_PAIR)), "–", "no onset answers a moment"),
    ],
)
def test_early_and_late_are_words_and_their_interval_has_its_sign(bias, said, under):
    made = card(MILLS)
    told = words(take_page(replace(made, measures={**made.measures, "bias_ms": bias})))
    at = told.index("against the plan")
    assert told[at + 1 : at + 3] == [said, under]


def test_figures_are_rounded_each_in_its_own_way():
    made = card(MILLS)
    measures = {
        **made.measures,
        "spread_ms": Measure(7.52, 32, 6.4, 9.6), "period_cv_pct": Measure(1.25, 15),
        "drift_pct_per_cycle": Measure(0.034, 16, -0.1, 0.168),
    }  # fmt: skip
    lag = replace(made.lags[0], asked=0.0, lag=replace(made.lags[0].lag, degrees=-0.2, half_interval=1.6, n=15))
    told = words(take_page(replace(made, measures=measures, lags=(lag,))))
    at = told.index("spread")
    assert told[at : at + 14] == [
        "spread", "8 ms", "between 6 and 10, n 32", "cycles differ by", "1.2 %", "n 15",
        "drift per cycle", "+0.03 %", "between -0.10 and +0.17, n 16",
        "left behind right", "0° ± 2°", "asked 0° (n 15)", "missed, too many", "0, 0",
    ]  # fmt: skip


def test_the_tables_behind_the_pictures_hold_the_cards_own_numbers():
    made = card(MILLS, late(MILLS, 10, 0.15), keep=[k for k in range(32) if k != 20])
    page = take_page(made)
    cycles = rows_behind(page, "Length of each cycle")
    assert cycles[0] == ["cycle", "place", "hand", "ms", "% of asked", "flags"]
    assert len(cycles) == 1 + len(made.cycles)
    for row, cycle in zip(cycles[1:], made.cycles, strict=True):
        assert row[0] == str(cycle.cycle + 1) and row[2] == cycle.hand
        assert row[3] == ("–" if math.isnan(cycle.period) else f"{1000 * cycle.period:.0f}")
        assert row[5] == ", ".join(map(str, cycle.flags))
    moments = rows_behind(page, "Early and late along the music")[1:]
    assert [row[1] for row in moments] == list(MILLS.moments.hand)
    assert [row[3] for row in moments].count("–") == 1 and moments[20][3] == "–"
    assert moments[10][3] == f"{1000 * made.asynchrony[10]:+.0f}"
    places = rows_behind(page, "Places on the cycle")
    assert [row[2] for row in places[1:]] == ["50.0", "0.0"]
    pairs = rows_behind(page, "Right against left")
    assert pairs[0] == ["cycle", "right, ms late", "left, ms late"]
    assert [row[0] for row in pairs[1:]] == [str(k + 1) for k in range(16) if k != 10]


def test_of_many_broken_cycles_the_first_are_told_and_the_rest_counted():
    made = card(MILLS, late(MILLS, 10, 0.15))
    (broken,) = made.flagged
    page = take_page(replace(made, cycles=(broken,) * (MOST_TOLD + 3)))
    assert page.count("<li>cycle 6, ") == MOST_TOLD
    assert "<li>and 3 more</li>" in page
    assert " more</li>" not in take_page(replace(made, cycles=(broken,) * MOST_TOLD))


def test_praise_and_the_small_print_are_on_the_page():
    made = card(MILLS)
    worse = replace(made, asynchrony=np.where(MILLS.moments.cycle % 2, 0.05, -0.05))
    assert '<p class="say">Better: ' in take_page(made, previous=worse)
    split = {"clock_sd_ms": Measure(11.04, 30, 8.0, 15.0), "motor_sd_ms": Measure(5.96, 30, 0.0, 9.2)}
    told = words(take_page(replace(made, measures={**made.measures, **split})))
    assert any("inner clock 11.0 ms (between 8.0 and 15.0), movement below 9.2 ms" in word for word in told)
    assert "inner clock" not in take_page(made)
    assert "among them: F 1.000." in take_page(made)


def test_names_with_signs_of_the_pages_own_language_are_escaped_in_its_pictures_too():
    name = "<b> & left"
    moments = MILLS.moments
    hands = tuple(name if hand == "left" else hand for hand in moments.hand)
    plan = replace(MILLS, title=EVIL, hands=("right", name), moments=replace(moments, hand=hands))
    page = take_page(card(plan))
    check(page)
    assert "<b>" not in page and "&lt;b&gt; &amp; left" in page


def test_places_of_one_hand_among_themselves_are_no_figure_at_the_top():
    assert any(lag.of == lag.to for lag in card(ROPE).lags)
    assert " behind " not in take_page(card(ROPE))
    assert words(take_page(card(MILLS))).count("left behind right") == 1


def test_where_it_lies_is_shown_by_what_the_take_has_parts_of():
    made = card(ROPE)
    page = take_page(made)
    shown = [by for by, parts in made.parts.items() if f"<h3>By {by}</h3>" in page]
    assert "circle" in shown and "hand" not in shown
    rows = rows_behind(page, "By circle")[1:]
    assert [row[0] for row in rows] == [part.name for part in made.parts["circle"]]
    assert [row[1] for row in rows] == [f"{1000 * part.bias:+.0f}" for part in made.parts["circle"]]


def test_hands_are_no_part_of_their_own_where_each_has_one_circle():
    page = take_page(card(MILLS))
    assert "<h3>By circle</h3>" in page and "<h3>By hand</h3>" not in page
