"""What a table of rules says, in words and as values."""

import math

from tempo_coach.pattern.routine.routine import MusicFile, Routine
from tempo_coach.pattern.routine.rules import Rule, RuleCheck, RuleTable
from tempo_coach.report.words.rules import CHECK_THE_CODE, checked_values, describe_check, describe_code, say_check

LENGTH = Rule("length", "alone", least=75, most=90, per_second=0.05, source="the club's sheet", status="secondary")
STEPS = Rule("steps", number=2, source="a coach")
CODE = RuleTable(
    "club",
    "Club day",
    "2031",
    (LENGTH, STEPS, Rule("introduction", "group", most=4.0, source="§ 3", status="official")),
)
ROUTINE = Routine("Made up", MusicFile("x.wav"))
LONG = RuleCheck(LENGTH, False, 92.5, 2.5, 0.1)
UNKNOWN = RuleCheck(STEPS, None, None)


def test_each_finding_has_its_mark_its_source_and_how_far_that_can_be_trusted():
    good = RuleCheck(LENGTH, True, 80.0, unmarked=("last",))
    assert describe_check(ROUTINE, CODE, [LONG, UNKNOWN, good]).splitlines() == [
        "Made up: alone, against Club day",
        "  length        NOT in order  " + say_check(LONG),
        "                              source: the club's sheet (second hand)",
        "  steps         not known     " + say_check(UNKNOWN),
        "                              source: a coach (from memory, not looked up)",
        "  length        in order      " + say_check(good),
        "                              source: the club's sheet (second hand)",
        CHECK_THE_CODE,
    ]


def test_a_table_without_a_rule_for_it_says_so():
    lines = describe_check(ROUTINE, CODE, []).splitlines()
    assert lines[1:] == ["  the table has no rule for an exercise alone", CHECK_THE_CODE]


def test_the_rows_of_a_table_say_their_bounds():
    assert describe_code(CODE).splitlines() == [
        "club: Club day",
        "  length        alone  at least 75 s, at most 90 s, 0.05 a full second beyond",
        "                       source: the club's sheet (second hand)",
        "  steps         both   2 or more",
        "                       source: a coach (from memory, not looked up)",
        "  introduction  group  at most 4 s",
        "                       source: § 3 (official text)",
    ]


def test_as_values_what_is_not_known_breaks_no_rule():
    values = checked_values(ROUTINE, CODE, [LONG, UNKNOWN])
    assert (values["routine"], values["kind"], values["code"], values["cycle"]) == ("Made up", "alone", "club", "2031")
    assert values["ok"] is False
    assert checked_values(ROUTINE, CODE, [UNKNOWN])["ok"] is True
    assert values["findings"][0] == {
        "what": "length", "ok": False, "seconds": 92.5, "beyond": 2.5, "cost": 0.1,
        "sentence": say_check(LONG), "source": "the club's sheet", "status": "secondary",
    }  # fmt: skip
    assert values["remember"] == CHECK_THE_CODE
    assert math.isinf(STEPS.most) and "at most" not in describe_code(RuleTable("a", "b", "", (STEPS,)))
