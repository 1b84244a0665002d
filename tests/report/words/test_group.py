"""A group in words: who is early or late, where it falls apart, and that names keep the columns."""

import math
from dataclasses import replace

import numpy as np
import pytest

from tempo_coach.languages import speaking
from tempo_coach.languages.catalogue import read_language
from tempo_coach.music.counts.count_map import CountMap
from tempo_coach.pattern.plan.every_count import lay_every_count
from tempo_coach.reasons import Reason, Why
from tempo_coach.report.words.group import WIDTH, format_group, tell_exchange
from tempo_coach.report.words.group_sentence import head_group, tell_group, tell_left
from tempo_coach.score.group.card import Apart, GroupCard, Left, Member, Pair
from tempo_coach.score.group.group import measure_group
from tempo_coach.score.group.together import EightSynchrony, Exchange, PartnerThrow

NAN = math.nan


def member(name="Ada", bias=0.0, offset=0.0, spread=0.02, n=16):
    return Member(name, bias, offset, spread, n)


def group(*members, apart=(), pairs=(), over_time=(), exchanges=(), reasons=None, resultant=0.98, chance=0.5):
    return GroupCard(
        members, resultant, chance, 0.021, 0.0424, tuple(apart), tuple(pairs), reasons or {}, over_time, exchanges
    )


@pytest.mark.parametrize(
    ("members", "apart", "said"),
    [
        (
            (member(offset=0.0514), member("Bo", offset=-0.0914, n=3)),
            (),
            "Bo is 91 ms ahead of the group (3 moments): listen to the others there.",
        ),
        (
            (member(offset=0.0314), member("Bo", offset=-0.031)),
            (),
            "Ada is 31 ms behind the group (16 moments): listen to the others there.",
        ),
        (
            (member(offset=0.03), member("Bo")),
            (Apart(2, 1.0, 0.2), Apart(3, 4.5, 0.31), Apart(4, 8.0, 0.25)),
            "Together, but it falls apart in eight 3 count 4&: 310 ms from the first to the last.",
        ),
        ((member(bias=0.05), member("Bo", bias=0.03)), (), "Together, and all of you 40 ms behind the music."),
        ((member(bias=-0.05), member("Bo", bias=-0.03)), (), "Together, and all of you 40 ms ahead of the music."),
        (
            (member(bias=0.05), member("Bo", bias=NAN, offset=NAN), member("Cy", bias=-0.05)),
            (),
            "Together: 42 ms from the first to the last on average.",
        ),
        ((member(offset=NAN), member("Bo", offset=NAN)), (), "Nothing to tell: nobody did a moment of the plan."),
    ],
)
def test_the_one_thing_that_is_said(members, apart, said):
    assert tell_group(group(*members, apart=apart)) == said


def test_where_nobody_is_known_by_name_the_width_is_said():
    eights = (EightSynchrony(1, 0.9, 0.01, 0.02, 7), EightSynchrony(2, 0.9, 0.01, 0.02, 9))
    assert tell_group(group(over_time=eights)) == (
        "Who was who cannot be told; 42 ms from the first to the last on average (16 moments)."
    )


@pytest.mark.parametrize(
    "names", [("A", "B"), ("Maximiliane-Wilhelmina", "MaximilianeWilhelmine" * 5), ("a b " * 30, "c")]
)
def test_names_of_any_length_keep_their_columns_and_the_page_its_width(names):
    made = group(
        *(member(name, offset=1.5 * sign, bias=-2.0, spread=0.25) for name, sign in zip(names, (1, -1), strict=True))
    )
    lines = format_group(made).splitlines()
    assert max(map(len, lines)) <= WIDTH
    at = next(k for k, line in enumerate(lines) if line.startswith("member"))
    assert lines[at].index("|") == lines[at + 1].index("|") == lines[at + 2].index("|")
    for line, name in zip(lines[at + 1 : at + 3], names, strict=True):
        assert line.startswith(name[:10])
        assert line.split()[-6:] == (f"{'+' if line is lines[at + 1] else '-'}1500 ms -2000 ms 250 ms").split()
    assert lines[at + 1].count(">") == 1 and lines[at + 2].count("<") == 1


def test_a_member_stands_where_she_is_between_the_ends_of_the_scale():
    made = group(member("Ada", offset=0.05), member("Bo", offset=-0.15), member("Cyl"), member("Dot", NAN, NAN, NAN, 0))
    rows = [line[8:39] for line in format_group(made).splitlines() if line[:3].strip() in ("Ada", "Bo", "Cyl", "Dot")][
        1:
    ]
    assert [row.find("o") for row in rows] == [15 + 5, 0, 15, -1]
    assert rows[3] == "." * 15 + "|" + "." * 15
    assert format_group(made).splitlines()[-4].split() == ["Dot", rows[3]]


def test_how_far_together_is_said_with_what_would_be_chance():
    assert "together 0.98 of 1.00; 0.50 would be chance for so many\nfirst to last 42 ms, spread 21 ms on average" in (
        format_group(group(member(), member("Bo")))
    )
    assert "together 0.98 of 1.00\n" in format_group(group(member(), member("Bo"), chance=NAN))
    assert "together" not in format_group(group(member(), resultant=NAN)).split("\n", 1)[1]


def test_eights_have_bars_as_long_as_they_are_wide():
    eights = (EightSynchrony(1, 1, 0, 0.02, 4), EightSynchrony(2, 1, 0, 0.08, 4), EightSynchrony(12, 1, 0, 0.0, 4))
    text = format_group(group(member(), member("Bo"), over_time=eights))
    assert f"  eight   1    20 ms  {'▪' * 10}\n  eight   2    80 ms  {'▪' * 40}\n  eight  12     0 ms" in text
    assert "Eight by eight" not in format_group(group(member(), member("Bo"), over_time=eights[:1]))
    assert "▪" not in format_group(group(member(), member("Bo"), over_time=eights[2:] * 2))


def test_who_follows_whom_the_surest_first_and_what_is_not_sure_not_at_all():
    pairs = [Pair("Ada", "Bo", 0.3, 40, 0.1, 0.5, {}, True), Pair("Bo", "Ada", 0.6, 40, 0.2, 1.0, {}, True)]
    pairs += [Pair("Cy", "Bo", 0.9, 40, 0.1, 1.9, {}, False), Pair("Cy", "Ada", NAN, 4, NAN, NAN, {}, None)]
    text = format_group(group(member(), member("Bo"), pairs=pairs))
    assert text.split("Who follows whom:\n")[1].splitlines() == [
        "  Ada follows Bo (60% by the next cycle, between 20% and 100%)",
        "  Bo follows Ada (30% by the next cycle, between 10% and 50%)",
    ]


def test_reasons_and_what_fell_apart_are_listed_no_longer_than_the_page():
    apart = [Apart(k + 1, 1.5, 0.2) for k in range(20)]
    text = format_group(group(member(), member("Bo"), apart=apart, reasons={"pairs": Reason(Why.NO_MUSIC)}))
    assert text.split("Fell apart:")[1].count("count 1&: 200 ms from the first to the last") == 12
    assert "\nNote: there is no music" in text
    assert max(map(len, text.splitlines())) <= WIDTH


def test_an_exchange_is_told_throw_by_throw():
    throws = (
        PartnerThrow("Ada", "Bo", 1.25, 1.2), PartnerThrow("Bo", "Ada", 1.1, 1.2), PartnerThrow("Cy", "Dot", 1.2, 1.2),
        PartnerThrow("Dot", "Cy", NAN, 1.2),
    )  # fmt: skip
    assert tell_exchange(Exchange(3, 7.5, 0.012, NAN, 0.04, NAN, throws)) == [
        "eight 3 count 7&: released within 40 ms (+12 ms); caught: not seen",
        "  Ada to Bo: 1.25 s from hand to hand, 50 ms longer than asked",
        "  Bo to Ada: 1.10 s from hand to hand, 100 ms shorter than asked",
        "  Cy to Dot: 1.20 s from hand to hand, as asked",
        "  Dot to Cy: not seen",
    ]
    assert tell_exchange(Exchange(1, 1.0, -0.02, 0.03, NAN, NAN, ())) == [
        "eight 1 count 1: released (-20 ms); caught (+30 ms)"
    ]


@pytest.mark.parametrize(
    ("left", "said"),
    [
        (Left("Eva", 3, 2.0, 3, 8.0, 0.2, 0.02, False, 7), "Eva, eight 3 counts 2 to 8, 200 ms late"),
        (Left("Eva", 3, 2.5, 4, 1.0, -0.12, 0.02, False, 9), "Eva, eight 3 count 2& to eight 4 count 1, 120 ms early"),
        (Left("Eva", 1, 1.0, 1, 4.0, 0.01, 0.08, True, 4), "Eva, eight 1 counts 1 to 4, uneven, 80 ms to either side"),
        (Left("Eva", 1, 1.0, 1, 4.0, NAN, NAN, False, 4), "Eva, eight 1 counts 1 to 4, not there"),
    ],
)
def test_who_left_is_said_with_the_place_and_how(left, said):
    assert tell_left(left) == said


def test_who_left_comes_first_and_one_who_is_always_late_beside_it():
    left = (Left("Eva", 3, 2.0, 3, 8.0, 0.2, 0.02, False, 7), Left("Bo", 1, 1.0, 1, 4.0, -0.1, 0.02, False, 4))
    made = replace(group(member("Bo", offset=0.09), member("Eva", offset=0.05)), left=left)
    told = tell_group(made)
    assert told.index("Eva, eight 3 counts 2 to 8, 200 ms late.") < told.index("Bo is 90 ms behind the group")
    text = format_group(made)
    assert all(f"  {tell_left(one)}" in text.splitlines() for one in left)


def test_a_stretch_makes_nobody_late_as_a_rule():
    eva = Member("Eva", 0.0, 0.05, 0.08, 16, 0.004)
    assert "behind the group" not in tell_group(group(member("Bo", offset=-0.012), eva))


def test_a_canon_is_said_and_without_music_nothing_of_it():
    made = replace(group(member(bias=0.05), member("Bo", bias=0.05)), canon={"Bo": 4, "Cy": -1})
    assert "Bo 4 counts behind, Cy 1 count ahead of the others" in tell_group(made)
    alone = replace(group(member(bias=NAN), member("Bo", bias=NAN)), reference="nothing")
    assert "music" not in format_group(alone)
    to_cues = replace(group(member(bias=0.05), member("Bo", bias=0.05)), reference="cues")
    assert "behind the cues" in tell_group(to_cues)
    with speaking(read_language("de")):
        assert "hinter den Signalen" in tell_group(to_cues)


def test_the_large_letters_say_what_the_sentence_says() -> None:
    plan = lay_every_count(CountMap.steady(120), end=19.9, tempo_bpm=120)
    rows = 0.01 * np.random.default_rng(1).standard_normal((5, len(plan.moments)))
    names = ("Ada", "Bea", "Cyl", "Dora", "Eva")  # invented
    assert head_group(measure_group(names, rows, plan)) == "together"
    late = rows.copy()
    late[4] += 0.1
    assert head_group(measure_group(names, late, plan)) == "Eva late"
    left = rows.copy()
    left[1, 8:16] -= 0.2
    card = measure_group(names, left, plan)
    assert head_group(card) == "Bea early" and tell_group(card).startswith("Bea, eight 2")
    gone = rows.copy()
    gone[2, 8:16] = np.nan
    assert head_group(measure_group(names, gone, plan)) == "Cyl away"
    wandered = rows.copy()
    wandered[:, 16:24] += 0.15
    assert head_group(measure_group(names, wandered, plan)) == "all late"


def test_an_exchange_wider_than_a_line_goes_on_in_the_next():
    exchange = Exchange(5, 2.0, 0.039, 0.045, 0.218, 0.214, ())
    text = format_group(group(member(), member("Bo"), exchanges=(exchange,)))
    assert max(map(len, text.splitlines())) <= WIDTH
    assert tell_exchange(exchange)[0] in " ".join(text.split())
