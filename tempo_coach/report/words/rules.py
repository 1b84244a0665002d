"""A routine held against a table of rules, in words and as values."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from tempo_coach.languages import tr
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
    lines = [tr("{title}: {kind}, against {title_2}", title=routine.title, kind=routine.kind, title_2=code.title)]
    for finding in findings:
        rule = finding.rule
        lines.append(f"  {rule.what:<13} {_MARKS[finding.ok]:<13} {say_check(finding)}")
        lines.append(f"  {'':<27} {_source(rule)}")
    if not findings:
        lines.append(tr("  the table has no rule for an exercise {kind}", kind=routine.kind))
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
        tr("Music with words is allowed; whether yours has any is not heard here.")
        if check.rule.allowed
        else tr("Music with words is not allowed; whether yours has any is not heard here.")
    )


def _say_length(check: RuleCheck) -> str:
    rule = check.rule
    bounds = tr("{clock} to {clock_2}", clock=say_clock(rule.least), clock_2=say_clock(rule.most))
    said = tr(
        "{clock} from the first movement to the last ({bounds} {kind}){beyond}",
        clock=say_clock(check.seconds or 0.0),
        bounds=bounds,
        kind=check.kind,
        beyond=_beyond(check),
    )
    if check.beyond and rule.per_second:
        counted = tr("a full second") if rule.seconds == "full" else tr("a begun second")
        said += tr(
            ", which would cost {cost:.2f} at {per_second:.2f} {counted}",
            cost=check.cost,
            per_second=rule.per_second,
            counted=counted,
        )
    taken = {"first": tr("the first count 1"), "last": tr("the last count heard")}
    missing = tr(" and ").join(
        tr("the {name} movement is not marked, {taken} is taken", name=name, taken=taken[name])
        for name in check.unmarked
    )
    return f"{said}. {missing[0].upper()}{missing[1:]}." if missing else f"{said}."


def _say_introduction(check: RuleCheck) -> str:
    most = tr("at most {most:g} s", most=check.rule.most)
    return tr(
        "{seconds:.1f} s of music before the first movement ({most}){beyond}.",
        seconds=check.seconds or 0.0,
        most=most,
        beyond=_beyond(check),
    )


def _beyond(check: RuleCheck) -> str:
    return (
        (
            tr(": {beyond:.1f} s too long", beyond=abs(check.beyond))
            if check.beyond > 0
            else tr(": {beyond:.1f} s too short", beyond=abs(check.beyond))
        )
        if check.beyond
        else ""
    )


def _say_steps(check: RuleCheck) -> str:
    rule = check.rule
    wanted = tr("{number} of at least {least:g} s are asked for", number=rule.number, least=rule.least)
    if not check.steps:
        return tr("No dance steps are marked; {wanted}.", wanted=wanted)
    said = tr(
        "Dance steps of {names}; {wanted}",
        names=", ".join((f"{length:.1f} s" for _, length in check.steps)),
        wanted=wanted,
    )
    short = [
        tr("those from eight {eight} are {least:.1f} s too short", eight=eight, least=rule.least - length)
        for eight, length in check.steps
        if rule.beyond(length) < 0
    ]
    return f"{said}: {', '.join(short)}." if short else f"{said}."


def describe_code(code: RuleTable) -> str:
    """Return the rows of a table in words."""
    since = tr(", valid from {valid_from}", valid_from=code.valid_from) if code.valid_from else ""
    lines = [f"{code.name}: {code.title}{since}"]
    for rule in code.rules:
        bounds = [tr("at least {least:g} s", least=rule.least)] if rule.least else []
        bounds += [tr("at most {most:g} s", most=rule.most)] if math.isfinite(rule.most) else []
        bounds += [tr("{number} or more", number=rule.number)] if rule.number else []
        bounds += (
            [tr("{per_second:.2f} a {seconds} second beyond", per_second=rule.per_second, seconds=rule.seconds)]
            if rule.per_second
            else []
        )
        bounds += [(tr("allowed") if rule.allowed else tr("not allowed"))] if rule.what == "words" else []
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
    status = {
        "official": tr("official text"),
        "secondary": tr("second hand"),
        "memory": tr("from memory, not looked up"),
    }
    return tr("source: {source} ({statu})", source=rule.source, statu=status[rule.status])
