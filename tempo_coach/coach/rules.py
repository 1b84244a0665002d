"""Rules of a code as both front ends use them: tables listed and read, and what they say of an exercise's length."""

from __future__ import annotations

from typing import TYPE_CHECKING

from tempo_coach.pattern.routine.rules import DEFAULT_CODE, Rule, RuleTable, list_codes, read_code

if TYPE_CHECKING:
    from tempo_coach.pattern.routine.routine import ExerciseKind

__all__ = ["DEFAULT_CODE", "Rule", "RuleTable", "list_codes", "read_code", "rules_of_length"]


def rules_of_length(code: RuleTable, kind: ExerciseKind) -> list[Rule]:
    """Return the rules on the length of an exercise of one kind."""
    return [each for each in code.rules if each.what == "length" and each.applies_to(kind)]
