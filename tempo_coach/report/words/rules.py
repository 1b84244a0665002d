"""A routine held against a table of rules, in words and as values."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from tempo_coach.languages import in_english, tr
from tempo_coach.report.words.amounts import say_clock
from tempo_coach.signs import columns, pad

if TYPE_CHECKING:
    from collections.abc import Sequence

    from tempo_coach.pattern.routine.routine import Routine
    from tempo_coach.pattern.routine.rules import Rule, RuleCheck, RuleTable

#: Said with every check.
CHECK_THE_CODE = "Check the code in force: this table may be out of date, and no program judges for the federation."
#: What a rule is about, and whose it is.
WHAT = {"length": "length", "introduction": "introduction", "steps": "steps", "words": "words"}
KINDS = {"alone": "alone", "group": "group", "both": "both"}
NO_RULE = {
    "alone": "the table has no rule for an exercise alone",
    "group": "the table has no rule for an exercise in a group",
}
AGES = {"seniors": "seniors", "juniors": "juniors"}
_MARKS = {True: "in order", False: "NOT in order", None: "not known"}


def describe_check(routine: Routine, code: RuleTable, findings: Sequence[RuleCheck]) -> str:
    """Return the findings in words, each with its source, and the reminder at the end."""
    kind, title = tr(KINDS[routine.kind]), tr(code.title)
    lines = [tr("{title}: {kind}, against {title_2}", title=routine.title, kind=kind, title_2=title)]
    what = max(13, *(columns(tr(word)) for word in WHAT.values()))
    mark = max(13, *(columns(tr(word)) for word in _MARKS.values()))
    for finding in findings:
        rule = finding.rule
        told = f"{pad(tr(WHAT[rule.what]), what)} {pad(tr(_MARKS[finding.ok]), mark)}"
        lines.append(f"  {told} {say_check(finding)}")
        lines.append(f"  {'':<{what + mark + 1}} {_source(rule)}")
    if not findings:
        lines.append(f"  {tr(NO_RULE[routine.kind])}")
    return "\n".join([*lines, tr(CHECK_THE_CODE)])


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
        "{clock} from the first movement to the last ({bounds} {kind})",
        clock=say_clock(check.seconds or 0.0),
        bounds=bounds,
        kind=tr(KINDS[check.kind]),
    )
    said = _with_beyond(said, check)
    if check.beyond and rule.per_second:
        said = tr(
            "{said}, which would cost {cost:.2f} at {per_second:.2f} a full second"
            if rule.seconds == "full"
            else "{said}, which would cost {cost:.2f} at {per_second:.2f} a begun second",
            said=said,
            cost=check.cost,
            per_second=rule.per_second,
        )
    return " ".join([f"{said}.", *(tr(NOT_MARKED[name]) for name in check.unmarked)])


#: What is taken where an end of the exercise is not marked.
NOT_MARKED = {
    "first": "The first movement is not marked, the first count 1 is taken.",
    "last": "The last movement is not marked, the last count heard is taken.",
}


def _say_introduction(check: RuleCheck) -> str:
    said = tr(
        "{seconds:.1f} s of music before the first movement (at most {most:g} s)",
        seconds=check.seconds or 0.0,
        most=check.rule.most,
    )
    return f"{_with_beyond(said, check)}."


def _with_beyond(said: str, check: RuleCheck) -> str:
    if not check.beyond:
        return said
    return tr(
        "{said}: {beyond:.1f} s too long" if check.beyond > 0 else "{said}: {beyond:.1f} s too short",
        said=said,
        beyond=abs(check.beyond),
    )


def _say_steps(check: RuleCheck) -> str:
    rule = check.rule
    wanted = tr("{number} of at least {least:g} s are asked for", number=rule.number, least=rule.least)
    if not check.steps:
        return tr("No dance steps are marked; {wanted}.", wanted=wanted)
    said = tr(
        "Dance steps of {names}; {wanted}",
        names=", ".join(tr("{seconds:.1f} s", seconds=length) for _, length in check.steps),
        wanted=wanted,
    )
    short = [
        tr("those from eight {eight} are {least:.1f} s too short", eight=eight, least=rule.least - length)
        for eight, length in check.steps
        if rule.beyond(length) < 0
    ]
    return f"{tr('{name}: {said}', name=said, said=', '.join(short))}." if short else f"{said}."


def describe_code(code: RuleTable) -> str:
    """Return the rows of a table in words."""
    lines = [
        tr(
            "{name}: {title}, valid from {valid_from}" if code.valid_from else "{name}: {title}",
            name=code.name,
            title=tr(code.title),
            valid_from=code.valid_from,
        )
    ]
    what = max(13, *(columns(tr(word)) for word in WHAT.values()))
    kind = max(6, *(columns(tr(word)) for word in KINDS.values()))
    for rule in code.rules:
        bounds = [tr("at least {least:g} s", least=rule.least)] if rule.least else []
        bounds += [tr("at most {most:g} s", most=rule.most)] if math.isfinite(rule.most) else []
        bounds += [tr("{number} or more", number=rule.number)] if rule.number else []
        bounds += (
            [
                tr(
                    "{per_second:.2f} a full second beyond"
                    if rule.seconds == "full"
                    else "{per_second:.2f} a begun second beyond",
                    per_second=rule.per_second,
                )
            ]
            if rule.per_second
            else []
        )
        bounds += [(tr("allowed") if rule.allowed else tr("not allowed"))] if rule.what == "words" else []
        whose = " ".join(tr(each) for each in (rule.age, rule.apparatus) if each)
        said = ", ".join(bounds)
        said = tr("{name}: {said}", name=whose, said=said) if whose else said
        lines.append(f"  {pad(tr(WHAT[rule.what]), what)} {pad(tr(KINDS[rule.kind]), kind)} {said}")
        lines.append(f"  {'':<{what + kind + 1}} {_source(rule)}")
    return "\n".join(lines)


@in_english
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
    return tr("source: {source} ({statu})", source=tr(rule.source), statu=status[rule.status])
