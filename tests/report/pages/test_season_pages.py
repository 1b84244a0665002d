"""Pages of a season: three sentences for a gymnast and her parents, a coach's table with what to look at, lists."""

from __future__ import annotations

import math
import re
from dataclasses import replace
from datetime import date, timedelta

import pytest

from tempo_coach.history.drill_course import DrillLevel
from tempo_coach.history.overview import DrillOverview
from tempo_coach.history.planner import Because, SessionItem, SessionPart
from tempo_coach.history.progress import Retention
from tempo_coach.history.roster import Person
from tempo_coach.history.season import Goal, Outlook, Verdict
from tempo_coach.history.session_record import SessionRecord
from tempo_coach.languages import speaking
from tempo_coach.languages.catalogue import read_language
from tempo_coach.report.pages.coachs_table import coachs_page, say_look_at
from tempo_coach.report.pages.gymnast import gymnast_page, say_better, say_next, say_work_on
from tempo_coach.report.pages.todays_list import todays_page

TODAY = date(2031, 5, 20)
UNKNOWN = DrillLevel(math.nan, math.nan)
MILLS = DrillOverview(
    "mills",
    "Mills",
    takes=20,
    since=date(2031, 4, 1),
    rested=2,
    tempo_bpm=100.0,
    now=DrillLevel(math.log(6.0), 0.1),
    before=UNKNOWN,
    within_day=math.nan,
    retention=Retention((), math.nan),
)


def at(pct, se=0.1):
    return DrillLevel(math.log(pct), se)


def test_even_at_times_even_and_not_even_are_three_sentences():
    said = [say_work_on([replace(MILLS, now=at(pct))]) for pct in (3.0, 4.4, 4.6, 6.0)]
    assert "all of it is even" in said[0]
    assert all("even on some days" in each for each in said[1:3]) and "4.4 %" in said[1]
    assert "not even yet" in said[3] and "6 %" in said[3]


def test_nothing_to_compare_with_is_told_apart_from_nothing_better():
    assert "practised for 4 weeks" in say_better([MILLS])
    assert "nothing so far" in say_better([replace(MILLS, before=at(6.2))])
    assert "4.0 %, and then it was 7.0 %" in say_better([replace(MILLS, now=at(4.0), before=at(7.0))])


def test_the_nearest_goal_is_told_also_of_a_drill_that_was_not_begun():
    far = Goal("mills", TODAY + timedelta(days=30), 112.0, "ones")
    near = Goal("skips", TODAY + timedelta(days=9), 120.0, "none", "the club's cup")
    hers = [replace(MILLS, goals=((far, Verdict(Outlook.NOT)),))]
    assert "“Mills” even at 112" in say_next(hers) and "talk with your coach" in say_next(hers)
    assert say_next(hers, [(near, "Skips")]).startswith("Next: “Skips” even at 120 beats a minute, without any sounds")
    assert "not begun" in say_next(hers, [(near, "Skips")])
    page = gymnast_page("Ada", hers, today=TODAY, not_begun=[(near, "Skips")])
    assert "from 20 takes since 1 April 2031" in page and "the club&#x27;s cup" in page and page.count("<svg") == 1


def test_the_goal_is_told_in_her_language_whole():
    hers = [replace(MILLS, goals=((Goal("mills", TODAY, 112.0, "none"), Verdict(Outlook.NOT)),))]
    with speaking(read_language("es")):
        assert "sin ningún sonido" in say_next(hers) and "tu entrenadora" in say_next(hers)


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({}, []),
        ({"goals": ((Goal("mills", TODAY, 112.0), Verdict(Outlook.NOT)),)}, ["is not on the way"]),
        ({"goals": ((Goal("mills", TODAY, 112.0), Verdict(Outlook.ON_THE_WAY)),)}, []),
        ({"before": at(4.0)}, ["less even than 4 weeks ago, 6.0 % and then 4.0 %"]),
        ({"rested": 11}, ["not done for 11 days"]),
        ({"rested": 100}, []),  # dropped from her list long ago
    ],
)
def test_a_coach_is_told_what_to_look_at(changes, said):
    lines = say_look_at("Ada", replace(MILLS, **changes))
    assert len(lines) == len(said) and all(each in line for each, line in zip(said, lines, strict=True))


def test_the_coachs_table_says_when_nothing_stands_out_and_which_goal_has_no_take():
    assert "Nothing stands out" in coachs_page({"Ada": [MILLS]}, today=TODAY)
    page = coachs_page({each: [MILLS] for each in ("Ada", "Bea", "Cyl")}, today=TODAY, levels={"Ada": "z", "Cyl": "b"})
    heads = [page.index(f">{each}<") for each in ("Bea", "Cyl, b", "Ada, z")]
    assert heads == sorted(heads)  # those of one level or age class stand together
    goals = {"Bea": [(Goal("skips", TODAY + timedelta(days=9), 120.0), "Skips")]}
    page = coachs_page({"Ada": [MILLS]}, today=TODAY, not_begun=goals)
    assert "Bea, “Skips”: 120 by 29 May, and no take of it so far" in page and "Nothing stands out" not in page


def test_a_list_on_paper_says_part_and_why_once_and_what_to_mind():
    item = SessionItem(SessionPart.BLOCK, 1, "mills", 100.0, "ones", 2, Because.WEAKEST, 6.0)
    items = (item, replace(item, drill="skips", because=Because.NEW, number=math.nan), replace(item, block=2))
    record = SessionRecord("2031-05-20", 10, items, ("",) * 3)
    page = todays_page(
        [(Person("Ada", level="juniors", hand="left"), record)],
        {"mills": "Mills", "skips": "Skips"},
        cautions={"mills": "clear space"},
    )
    assert page.count("block 1") == page.count("block 2") == 1 and page.count("the least even one") == 1
    assert "Tuesday, 20 May 2031: Ada" in page and "Mind: clear space." in page
    assert re.search(r"juniors, \d+ minutes, mirrored", page)
