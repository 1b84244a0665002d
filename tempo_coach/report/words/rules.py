"""A routine held against a table of rules, in words and as values."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from tempo_coach.pattern.routine.rules import CHECK_THE_CODE

if TYPE_CHECKING:
    from collections.abc import Sequence

    from tempo_coach.pattern.routine.routine import Routine
    from tempo_coach.pattern.routine.rules import Rule, RuleCheck, RuleTable

_MARKS = {True: "in order", False: "NOT in order", None: "not known"}


def describe_check(routine: Routine, code: RuleTable, findings: Sequence[RuleCheck]) -> str:
    """Return the findings in words, each with its source, and the reminder at the end."""
    lines = [f"{routine.title}: {routine.kind}, against {code.title}"]
    for finding in findings:
        rule = finding.rule
        lines.append(f"  {rule.what:<13} {_MARKS[finding.ok]:<13} {finding.sentence}")
        lines.append(f"  {'':<27} {_source(rule)}")
    if not findings:
        lines.append(f"  the table has no rule for an exercise {routine.kind}")
    return "\n".join([*lines, CHECK_THE_CODE])


def describe_code(code: RuleTable) -> str:
    """Return the rows of a table in words."""
    lines = [f"{code.name}: {code.title}"]
    for rule in code.rules:
        bounds = [f"at least {rule.least:g} s"] if rule.least else []
        bounds += [f"at most {rule.most:g} s"] if math.isfinite(rule.most) else []
        bounds += [f"{rule.number} or more"] if rule.number else []
        bounds += [f"{rule.per_second:.2f} a {rule.seconds} second beyond"] if rule.per_second else []
        lines.append(f"  {rule.what:<13} {rule.kind:<6} {', '.join(bounds)}")
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
                "sentence": each.sentence,
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
