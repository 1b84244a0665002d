"""Rules of length from a table, held against what the code says: see the source beside each value."""

from dataclasses import replace

import numpy as np
import pytest

from tempo_coach.errors import CoachErrors
from tempo_coach.music.counts.count_map import CountMap, Position
from tempo_coach.pattern.routine.routine import MusicFile, Routine, Steps
from tempo_coach.pattern.routine.rules import DEFAULT_CODE, check_routine, list_codes, read_code
from tempo_coach.report.words.errors import say_error
from tempo_coach.report.words.rules import CHECK_THE_CODE, checked_values, describe_check, describe_code, say_check
from tests.refused import refused

CODE = read_code(DEFAULT_CODE)


def lasting(seconds, *, kind="alone", begin=0.0):
    """A routine whose last count falls so many seconds after its first."""
    counts = CountMap(begin + np.linspace(0, seconds, 161))
    return Routine("invented", MusicFile("x.wav"), kind=kind, first=Position(1, 1), last=Position(21, 1)), counts


def length_of(seconds, **kind):
    routine, counts = lasting(seconds, **kind)
    return check_routine(routine, counts, CODE)[0]


@pytest.mark.parametrize(
    ("seconds", "kind", "beyond", "cost"),
    [
        # code of points of earlier cycles as quoted on public pages: alone 1'15" to 1'30", in a group 2'15" to 2'30",
        # from the first movement to the last, 0.05 for each second over or under
        (75.0, "alone", 0, 0),
        (90.0, "alone", 0, 0),
        (82.0, "alone", 0, 0),
        (92.0, "alone", 2.0, 0.10),
        (90.4, "alone", 0.4, 0.0),
        (71.5, "alone", -3.5, 0.15),
        (135.0, "group", 0, 0),
        (150.0, "group", 0, 0),
        (151.0, "group", 1.0, 0.05),
        (90.0, "group", -45.0, 2.25),
    ],
)
def test_the_length_rule_is_that_of_its_source(seconds, kind, beyond, cost):
    finding = length_of(seconds, kind=kind)
    assert finding.rule.what == "length" and finding.rule.source and finding.rule.status == "secondary"
    assert finding.seconds == pytest.approx(seconds)
    assert finding.beyond == pytest.approx(beyond, abs=1e-6)
    assert finding.cost == pytest.approx(cost)
    assert finding.ok is (beyond == 0)


def test_what_is_a_second_but_for_rounding_is_one():
    full = CODE.rules[0]
    assert full.cost(2 - 1e-12) == full.cost(2) == full.cost(-2 + 1e-12) == pytest.approx(0.10)
    assert replace(full, seconds="begun").cost(2 + 1e-12) == pytest.approx(0.10)


def test_begun_seconds_can_count_as_well():
    rule = replace(CODE.rules[0], seconds="begun")
    assert rule.cost(rule.beyond(90.4)) == pytest.approx(0.05)
    assert rule.cost(rule.beyond(92.0)) == pytest.approx(0.10)


def test_what_is_said_names_length_limit_excess_and_cost():
    said = say_check(length_of(92.5))
    assert "1:32.5 from the first movement to the last (1:15.0 to 1:30.0 alone)" in said
    assert "2.5 s too long, which would cost 0.10" in said
    routine, counts = lasting(80.0)
    said = say_check(check_routine(replace(routine, first=None, last=None), counts, CODE)[0])
    assert "The first movement is not marked, the first count 1 is taken. The last movement" in said


def test_an_introduction_of_more_than_four_seconds_is_said():
    for begin, ok in ((3.9, True), (6.0, False)):
        finding = check_routine(*lasting(80.0, begin=begin), CODE)[1]
        assert (finding.rule.what, finding.ok) == ("introduction", ok)
    assert "2.0 s too long" in say_check(finding)


def test_dance_steps_are_measured_where_they_are_marked():
    # two combinations of at least 8 s: code of points 2022 to 2024 as quoted on public pages
    routine, counts = lasting(80.0)  # half a second a count
    assert check_routine(routine, counts, CODE)[2].ok is None
    two = (Steps(Position(3, 1), Position(5, 1)), Steps(Position(8, 1), Position(10, 3)))
    finding = check_routine(replace(routine, steps=two), counts, CODE)[2]
    assert finding.ok is True and [length for _, length in finding.steps] == pytest.approx([8.0, 9.0])
    short = (two[0], Steps(Position(8, 1), Position(9, 7)))
    finding = check_routine(replace(routine, steps=short), counts, CODE)[2]
    assert finding.ok is False and "those from eight 8 are 1.0 s too short" in say_check(finding)


def test_a_pause_counts_into_the_length_and_an_eight_of_another_length_moves_the_last_movement():
    beats = np.concatenate([0.5 * np.arange(80), 45 + 0.5 * np.arange(80)])
    counts = CountMap(beats, tuple((k, 8) for k in range(0, 160, 8)), ((40.0, 45.0),))
    routine = Routine("invented", MusicFile("x.wav"), first=Position(1, 1), last=Position(20, 8))
    assert check_routine(routine, counts, CODE)[0].seconds == pytest.approx(84.5)


@pytest.mark.parametrize("path", list(list_codes()), ids=lambda path: path.stem)
def test_every_table_of_the_program_has_a_source_in_every_row(path):
    code = read_code(path)
    assert {rule.what for rule in code.rules} >= {"length", "introduction"}
    assert all(rule.source and rule.status in ("official", "secondary", "memory") for rule in code.rules)
    assert "source: " in describe_code(code)


def test_the_code_in_force_is_always_named():
    routine, counts = lasting(80.0)
    findings = check_routine(routine, counts, CODE)
    assert describe_check(routine, CODE, findings).endswith(CHECK_THE_CODE)
    assert checked_values(routine, CODE, findings)["remember"] == CHECK_THE_CODE
    assert "code in force" in CHECK_THE_CODE


def test_a_table_of_her_own_is_read_and_its_problems_said(tmp_path):
    own = tmp_path / "club.toml"
    own.write_text('title = "Club day"\n[[rule]]\nwhat = "length"\nmost = 60\nsource = "the club"\n')
    assert read_code(own).rules[0].most == 60
    own.write_text('title = "x"\n[[rule]]\nwhat = "lenght"\nleast = 60\nmost = 10\n')
    with pytest.raises(CoachErrors) as caught:
        read_code(own)
    said = say_error(caught.value)
    assert "club.toml:3: rule.what: expected length" in said and "did you mean length?" in said
    assert "club.toml:5: rule.most: expected no less than the least" in said
    assert "rule.source: expected the entry source" in said
    own.write_text('title = "x"\n')
    with refused(error=CoachErrors, match="at least one rule"):
        read_code(own)
    with refused("did you mean until_2024"):
        read_code("until_2025")


def test_rows_are_chosen_by_age_class_and_apparatus(tmp_path):
    path = tmp_path / "mine.toml"
    path.write_text(
        """
title = "Of our club, invented"
valid_from = "2031-01-01"
[[rule]]
what = "length"
age = "minis"
apparatus = "ball"
most = 60
source = "invented"
[[rule]]
what = "length"
age = "seniors"
most = 90
source = "invented"
[[rule]]
what = "words"
allowed = true
source = "invented"
"""
    )
    code = read_code(path)
    assert (code.valid_from, code.ages) == ("2031-01-01", ("minis", "seniors"))
    routine, counts = lasting(70.0)
    ball = replace(routine, apparatus="ball")
    assert [each.beyond for each in check_routine(ball, counts, code, age="Minis")] == [pytest.approx(10.0), 0.0]
    assert [each.rule.what for each in check_routine(routine, counts, code, age="minis")] == ["words"]
    assert [each.ok for each in check_routine(ball, counts, code)] == [True, None]
    with refused("did you mean minis"):
        check_routine(routine, counts, code, age="mini")


def test_a_rule_file_with_three_mistakes_says_three_sentences(tmp_path):
    path = tmp_path / "bad.toml"
    path.write_text('title = "x"\n[[rule]]\nwhat = "lenght"\nleast = "long"\nallowed = 1\nsource = "invented"\n')
    with pytest.raises(CoachErrors) as caught:
        read_code(path)
    assert len(say_error(caught.value).splitlines()) == 3


@pytest.mark.parametrize("age", ["seniors", "juniors"])
def test_the_newer_table_is_from_memory_and_says_so(age):
    """Its lengths agree with those of the earlier one, which public pages quote."""
    code = read_code("from_2025")
    assert {each.status for each in code.rules} == {"memory"} and code.valid_from
    for kind, bounds in (("alone", (75, 90)), ("group", (135, 150))):
        (row,) = [each for each in code.rules if each.what == "length" and each.applies_to(kind, age=age)]
        assert (row.least, row.most, row.per_second) == (*bounds, 0.05)
