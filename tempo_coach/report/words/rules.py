"""A routine held against a table of rules, in words and as values."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from tempo_coach.report.words.amounts import say_clock

if TYPE_CHECKING:
    from collections.abc import Sequence

    from tempo_coach.pattern.routine.routine import Routine
    from tempo_coach.pattern.routine.rules import Rule, RuleCheck, RuleTable

#: Said with every check.
CHECK_THE_CODE = "Check the code in force: this table may be out of date, and no program judges for the federation."
_MARKS = {True: "in order", False: "NOT in order", None: "not known"}


def describe_check(routine: Routine, code: RuleTable, findings: Sequence[RuleCheck]) -> str:
    """Return the findings in words, each with its source, and the reminder at the end."""
    lines = [f"{routine.title}: {routine.kind}, against {code.title}"]
    for finding in findings:
        rule = finding.rule
        lines.append(f"  {rule.what:<13} {_MARKS[finding.ok]:<13} {say_check(finding)}")
        lines.append(f"  {'':<27} {_source(rule)}")
    if not findings:
        lines.append(f"  the table has no rule for an exercise {routine.kind}")
    return "\n".join([*lines, CHECK_THE_CODE])


def say_check(check: RuleCheck) -> str:
    """Return the sentence of one finding.

    Examples
    --------
    >>> from tempo_coach.pattern.routine.rules import Rule, RuleCheck
    >>> say_check(RuleCheck(Rule("introduction", most=4.0), False, 6.0, 2.0))
    '6.0 s of music before the first movement (at most 4 s): 2.0 s too long.'
    """
    said = {"length": _say_length, "introduction": _say_introduction, "words": _say_words}
    return said.get(check.rule.what, _say_steps)(check)


def _say_words(check: RuleCheck) -> str:
    return (
        f"Music with words is {'' if check.rule.allowed else 'not '}allowed; whether yours has any is not heard here."
    )


def _say_length(check: RuleCheck) -> str:
    rule = check.rule
    bounds = f"{say_clock(rule.least)} to {say_clock(rule.most)}"
    said = (
        f"{say_clock(check.seconds or 0.0)} from the first movement to the last ({bounds} {check.kind}){_beyond(check)}"
    )
    if check.beyond and rule.per_second:
        counted = "a full second" if rule.seconds == "full" else "a begun second"
        said += f", which would cost {check.cost:.2f} at {rule.per_second:.2f} {counted}"
    taken = {"first": "the first count 1", "last": "the last count heard"}
    missing = " and ".join(f"the {name} movement is not marked, {taken[name]} is taken" for name in check.unmarked)
    return f"{said}. {missing[0].upper()}{missing[1:]}." if missing else f"{said}."


def _say_introduction(check: RuleCheck) -> str:
    most = f"at most {check.rule.most:g} s"
    return f"{check.seconds or 0.0:.1f} s of music before the first movement ({most}){_beyond(check)}."


def _beyond(check: RuleCheck) -> str:
    return f": {abs(check.beyond):.1f} s too {'long' if check.beyond > 0 else 'short'}" if check.beyond else ""


def _say_steps(check: RuleCheck) -> str:
    rule = check.rule
    wanted = f"{rule.number} of at least {rule.least:g} s are asked for"
    if not check.steps:
        return f"No dance steps are marked; {wanted}."
    said = f"Dance steps of {', '.join(f'{length:.1f} s' for _, length in check.steps)}; {wanted}"
    short = [
        f"those from eight {eight} are {rule.least - length:.1f} s too short"
        for eight, length in check.steps
        if rule.beyond(length) < 0
    ]
    return f"{said}: {', '.join(short)}." if short else f"{said}."


def describe_code(code: RuleTable) -> str:
    """Return the rows of a table in words."""
    since = f", valid from {code.valid_from}" if code.valid_from else ""
    lines = [f"{code.name}: {code.title}{since}"]
    for rule in code.rules:
        bounds = [f"at least {rule.least:g} s"] if rule.least else []
        bounds += [f"at most {rule.most:g} s"] if math.isfinite(rule.most) else []
        bounds += [f"{rule.number} or more"] if rule.number else []
        bounds += [f"{rule.per_second:.2f} a {rule.seconds} second beyond"] if rule.per_second else []
        bounds += [f"{'' if rule.allowed else 'not '}allowed"] if rule.what == "words" else []
        whose = " ".join(each for each in (rule.age, rule.apparatus) if each)
        lines.append(f"  {rule.what:<13} {rule.kind:<6} {f'{whose}: ' if whose else ''}{', '.join(bounds)}")
        lines.append(f"  {'':<20} {_source(rule)}")
    return "\n".join(lines)


def checked_values(routine: Routine, code: RuleTable, findings: Sequence[RuleCheck]) -> dict[str, object]:
    """Return the findings as plain values."""
    return {
        "routine": routine.title,
        "kind": routine.kind,
        "code": code.name,
        "cycle": code.cycle,
        "ok": all(finding.ok is not False for finding in findings),
        "findings": [
            {
                "what": each.rule.what,
                "ok": each.ok,
                "seconds": each.seconds,
                "beyond": each.beyond,
                "cost": each.cost,
                "sentence": say_check(each),
                "source": each.rule.source,
                "status": each.rule.status,
            }
            for each in findings
        ],
        "remember": CHECK_THE_CODE,
    }


def _source(rule: Rule) -> str:
    status = {"official": "official text", "secondary": "second hand", "memory": "from memory, not looked up"}
    return f"source: {rule.source} ({status[rule.status]})"
