"""The page of a group: its members, its eights, and what cannot be told."""

import math
from dataclasses import replace
from xml.etree import ElementTree as ET

import numpy as np
import pytest

from tempo_coach.observe.take.onsets import Onsets, Take
from tempo_coach.report.pages.group import (
    MOST_TOLD,
    draw_by_eights,
    draw_member,
    draw_members,
    draw_over_time,
    group_page,
)
from tempo_coach.score.group.card import Apart, GroupCard, Left, Member, MemberEight, Pair
from tempo_coach.score.group.group import judge_group
from tempo_coach.score.group.one_recording import judge_mix
from tempo_coach.score.group.together import EightSynchrony
from tests.history.season import lay, make_take
from tests.report.html import EVIL, check, marks, read

NAN = math.nan


def test_the_page_of_a_group_and_of_a_mix():
    plan = lay(cycles=24)
    takes = {}
    for k, name in enumerate(("Ada", EVIL, "Cyl")):
        take = make_take(k + 1, bias=0.03 * k, cycles=24)
        takes[name] = Take(plan, take.onsets)
    reader = check(group_page(judge_group(takes), title=EVIL))
    assert EVIL in "".join(reader.words)
    times = np.concatenate([take.onsets.time for take in takes.values()])
    mix = Take(plan, Onsets.unsorted(times.tolist(), ["right"] * len(times)))
    assert "who was who cannot be told" in group_page(judge_mix(mix))
    check(group_page(judge_mix(mix)))


def member(name="Ada", bias=0.0, offset=0.0, spread=0.02, n=16):
    return Member(name, bias, offset, spread, n)


def group(*members, apart=(), pairs=(), over_time=(), resultant=0.984, chance=0.5, reasons=None):
    return GroupCard(
        members, resultant, chance, 0.021, 0.0424, tuple(apart), tuple(pairs), reasons or {}, tuple(over_time)
    )


def words(page):
    return [word for word in map(str.strip, read(page).words) if word]


def test_the_figures_at_the_top_are_rounded_and_say_what_would_be_chance():
    eights = (EightSynchrony(1, 0.99, 0.01, 0.02, 7), EightSynchrony(2, 0.99, 0.01, 0.02, 9))
    told = " ".join(words(group_page(group(member(), member("Bo"), over_time=eights, apart=[Apart(2, 1.0, 0.2)]))))
    assert "together 0.98 of 1 0.50 would be chance" in told
    assert "first to last 42 ms mean over the moments" in told
    assert "spread 21 ms mean over the moments" in told
    assert "moments apart 1 of 16" in told
    assert "eight 2 count 1: 200 ms from the first to the last" in told
    assert "would be chance" not in group_page(group(member(), member("Bo"), chance=NAN))
    assert "first to last" not in group_page(group(member(), member("Bo"), resultant=NAN)).split("Small print")[0]


def test_long_lists_are_cut_and_the_rest_is_counted():
    apart = [Apart(k, 1.0, 0.1) for k in range(1, MOST_TOLD + 1)]
    page = group_page(group(member(), member("Bo"), apart=[*apart, Apart(99, 1.0, 0.1), Apart(98, 1.0, 0.1)]))
    assert "and 2 more" in words(page) and "eight 99 count 1: 100 ms from the first to the last" not in words(page)
    assert " more" not in group_page(group(member(), member("Bo"), apart=apart))


def test_who_follows_whom_the_most_first_and_only_what_is_sure():
    pairs = [Pair("Ada", "Bo", 0.3, 40, 0.1, 0.5, {}, True), Pair("Bo", "Ada", 0.6, 40, 0.2, 1.0, {}, True)]
    pairs += [Pair("Cy", "Bo", 0.9, 40, 0.1, 1.9, {}, False), Pair("Cy", "Ada", NAN, 4, NAN, NAN, {}, None)]
    told = words(group_page(group(member(), member("Bo"), pairs=pairs)))
    assert [line for line in told if " follows " in line and ":" in line] == [
        "Ada follows Bo: 60% of the lead by the next cycle, between 20% and 100%",
        "Bo follows Ada: 30% of the lead by the next cycle, between 10% and 50%",
    ]


def test_members_stand_early_left_and_late_right_with_their_spread():
    svg = draw_members(group(member("Ada", 0.03, -0.05, 0.02), member(EVIL, -0.03, 0.05, NAN), member("Cy", NAN, NAN)))
    x = [float(mark["cx"]) for mark in marks(svg)]
    y = [float(mark["cy"]) for mark in marks(svg)]
    assert len(x) == 2 and x[0] < x[1] and y[0] < y[1]
    (zero,) = marks(svg, "line", "zero")
    assert float(zero["x1"]) == pytest.approx(sum(x) / 2, abs=0.1)
    (bar,) = marks(svg, "rect", "bar rest")
    assert float(bar["x"]) + float(bar["width"]) / 2 == pytest.approx(x[0], abs=0.1)
    # 40 ms wide, where the marks are 100 ms apart
    assert float(bar["width"]) == pytest.approx(0.4 * (x[1] - x[0]), abs=0.1)
    music = [float(each["x"]) + 4 for each in marks(svg, "rect", "asked")]
    assert music[0] - float(zero["x1"]) == pytest.approx(0.3 * (x[1] - x[0]), abs=0.2)
    assert "<script>" not in svg


def test_long_names_are_cut_and_one_member_has_no_picture():
    svg = draw_members(group(member("n" * 20), member("m" * 21)))
    assert f">{'n' * 20}<" in svg and f">{'m' * 19}…<" in svg
    assert draw_members(group(member(), member("Bo", offset=NAN))) == draw_members(group()) == ""


def test_eights_are_as_high_as_the_group_was_wide_the_dark_part_its_spread():
    svg = draw_over_time(
        group(member(), over_time=[EightSynchrony(3, 1, 0.01, 0.02, 4), EightSynchrony(4, 1, 0.02, 0.08, 4)])
    )
    wide, dark = ([float(bar["height"]) for bar in marks(svg, "rect", css)] for css in ("bar rest", "bar"))
    assert wide[1] == pytest.approx(4 * wide[0], abs=0.3)
    assert dark == pytest.approx([wide[0] / 2, wide[1] / 4], abs=0.15)
    assert draw_over_time(group(member())) == ""
    ET.fromstring(draw_over_time(group(member(), over_time=[EightSynchrony(1, 1, 0, 0, 2)])))


def test_the_table_of_members_has_a_dash_where_nothing_is_known():
    told = words(
        group_page(group(member("Ada", 0.0126, -0.0124, 0.0196), member("Bo"), member("Cy", NAN, NAN, NAN, 0)))
    )
    at = told.index("Ada", told.index("spread, ms"))
    assert told[at : at + 5] == ["Ada", "-12", "+13", "20", "16"]
    assert told[at + 10 : at + 15] == ["Cy", "–", "–", "–", "0"]


def test_who_left_is_listed_and_without_music_there_is_no_square():
    made = replace(
        group(member(bias=NAN), member("Bo", bias=NAN, offset=0.02)),
        left=(Left("Bo", 3, 2.0, 3, 8.0, 0.2, 0.02, False, 7),),
        reference="nothing",
    )
    assert "Bo, eight 3 counts 2 to 8, 200 ms late" in words(group_page(made))
    assert not marks(draw_members(made), "rect", "asked") and len(marks(draw_members(made))) == 2
    assert "hollow square" not in group_page(made)


def test_members_by_eights_are_a_picture_with_signs_shades_and_frames_and_each_has_a_sheet():
    offsets = {"Ada": (-0.018, -0.004), EVIL: (0.172, 0.03), "Cy": (NAN, 0.0)}
    by_eight = tuple(
        MemberEight(name, eight, off, 0.01, 8, name == EVIL and eight == 1)
        for name, row in offsets.items()
        for eight, off in enumerate(row, 1)
    )
    left = (Left(EVIL, 1, 2.0, 1, 8.0, 0.196, 0.02, uneven=False, n=7),)
    card = replace(group(*map(member, offsets)), by_eight=by_eight, left=left)
    drawn = ET.fromstring(draw_by_eights(card))
    told = [each.text for each in drawn.iter("text")]
    assert {"-18", "-4", "+172", "+30"} <= {*told} and told.count("+0") + told.count("-0") == 1
    shades = [float(each.get("fill-opacity")) for each in drawn.iter("rect") if each.get("class") == "bar"]
    assert len(shades) == 3 and max(shades) == shades[1]  # less than 15 ms has none
    assert sum(each.get("class") == "asked" for each in drawn.iter("rect")) == 1
    page = group_page(card)
    check(page)
    sheets = page.split('class="sheet"')[1:]
    assert len(sheets) == 3 and all("<svg" in sheet for sheet in sheets)
    assert "196 ms late" in sheets[1] and "With the others" in sheets[0] and "With the others" not in sheets[1]
    assert not draw_member(card, "nobody")


def test_many_eights_are_drawn_in_blocks():
    by_eight = tuple(
        MemberEight(name, eight, 0.0, 0.01, 8, away=False) for name in ("Ada", "Bo") for eight in range(1, 25)
    )
    drawn = ET.fromstring(draw_by_eights(replace(group(member(), member("Bo")), by_eight=by_eight)))
    assert [each.text for each in drawn.iter("text")].count("Ada") == 3
