"""Rules about lengths, from tables that anybody can edit; informative only, since the code in force decides."""

from __future__ import annotations

import math
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Literal

from tempo_coach.errors import CoachError, nearest
from tempo_coach.pattern.drill.drill_file import APPARATUS
from tempo_coach.pattern.drill.toml_tables import TomlTable, read_table
from tempo_coach.pattern.routine.routine import position_of

if TYPE_CHECKING:
    from collections.abc import Iterator

    from tempo_coach.music.counts.count_map import CountMap
    from tempo_coach.pattern.routine.routine import ExerciseKind, Routine

#: Default table.
DEFAULT_CODE = "until_2024"
WHATS = ("length", "introduction", "steps", "words")
#: Age class where nothing else is said.
SENIORS = "seniors"
STATUSES = ("official", "secondary", "memory")
#: Lengths this close to a limit (s) are on it: counts are found to hundredths of a second, no better.
ON_THE_LIMIT = 0.05


@dataclass(frozen=True)
class Rule:
    """One row of a table of rules.

    Parameters
    ----------
    what : {"length", "introduction", "steps", "words"}
    kind : {"alone", "group", "both"}
    least, most : float
        Seconds; 0 and infinity where there is no limit.
    per_second : float
        Deduction a second over or under.
    seconds : {"full", "begun"}
        Which seconds count.
    number : int
        How many there have to be.
    source, status : str
        Where the row is from, and how far it can be trusted.
    age, apparatus : str
        Whose row it is; empty for all.
    allowed : bool
        Of words in the music.
    """

    what: str
    kind: str = "both"
    least: float = 0.0
    most: float = math.inf
    per_second: float = 0.0
    seconds: Literal["full", "begun"] = "full"
    number: int = 0
    source: str = ""
    status: str = "memory"
    age: str = ""
    apparatus: str = ""
    allowed: bool = False

    def applies_to(self, kind: ExerciseKind, *, age: str = SENIORS, apparatus: str = "none") -> bool:
        """Return whether the rule is for an exercise of that kind, age class and apparatus."""
        return (
            self.kind in (kind, "both") and self.age.lower() in ("", age.lower()) and self.apparatus in ("", apparatus)
        )

    def beyond(self, seconds: float) -> float:
        """Return by how many seconds a length is over (positive) or under (negative); 0 within the limits."""
        over, under = seconds - self.most, self.least - seconds
        if over > ON_THE_LIMIT:
            return over
        return -under if under > ON_THE_LIMIT else 0.0

    def cost(self, beyond: float) -> float:
        """Return the deduction for seconds over or under."""
        count = abs(beyond)
        counted = math.floor(count + 1e-9) if self.seconds == "full" else math.ceil(count - 1e-9)
        return round(counted * self.per_second, 10)


@dataclass(frozen=True)
class RuleTable:
    """A table of rules."""

    name: str
    title: str
    cycle: str
    rules: tuple[Rule, ...]
    valid_from: str = ""

    @property
    def ages(self) -> tuple[str, ...]:
        """The age classes in its rules, in order."""
        return tuple(dict.fromkeys(each.age for each in self.rules if each.age))


@dataclass(frozen=True)
class RuleCheck:
    """The result of one rule for a routine.

    Parameters
    ----------
    rule : Rule
    ok : bool or None
        None where the routine lacks the data.
    seconds : float or None
        Measured length.
    beyond : float
        Seconds over (positive) or under (negative).
    cost : float
        Deduction for that.
    kind : {"alone", "group"}
        Of the routine.
    unmarked : tuple of {"first", "last"}
        Ends of the routine that are not marked, so that the first count 1 and the last count heard were taken.
    steps : tuple of (int, float)
        Dance steps: the eight in which they begin, and their seconds.
    """

    rule: Rule
    ok: bool | None
    seconds: float | None
    beyond: float = 0.0
    cost: float = 0.0
    kind: ExerciseKind = "alone"
    unmarked: tuple[str, ...] = ()
    steps: tuple[tuple[int, float], ...] = ()


def list_codes() -> Iterator[Path]:
    """Yield the tables that come with the program, by name."""
    yield from sorted((Path(__file__).parent / "codes").glob("*.toml"))


def read_code(name: str | Path) -> RuleTable:
    """Return a table of rules by name or path.

    Raises
    ------
    CoachError
        If there is none of that name, or it is not TOML.
    CoachErrors
        With every problem of the file, each with its line.
    """
    path = Path(name)
    if path.suffix != ".toml" and not path.exists():
        known = {each.stem: each for each in list_codes()}
        if str(name) not in known:
            guess = nearest(str(name), list(known))
            raise CoachError("rules.unknown", where=str(name), known=[*known], nearest=guess)
        path = known[str(name)]
    table = read_table(path, what="rules")
    title, cycle, valid_from = table.text("title", None), table.text("cycle"), table.text("valid_from")
    rules = tuple(_read_rule(each) for each in table.tables("rule"))
    if not rules:
        table.problem("rule", "rules.none")
    table.no_more()
    table.problems.raise_if_any()
    return RuleTable(path.stem, title, cycle, rules, valid_from)


def _read_rule(table: TomlTable) -> Rule:
    rule = Rule(
        what=table.choice("what", WHATS, "length"),
        kind=table.choice("kind", ("alone", "group", "both"), "both"),
        least=table.number("least", 0.0, low=0, high=3600),
        most=table.number("most", 3600.0, low=0, high=3600) if table.has("most") else math.inf,
        per_second=table.number("per_second", 0.0, low=0, high=10),
        seconds="begun" if table.choice("seconds", ("full", "begun"), "full") == "begun" else "full",
        number=table.whole("number", 0, low=0, high=99),
        source=table.text("source", None),
        status=table.choice("status", STATUSES, "memory"),
        age=table.text("age"),
        apparatus=table.choice("apparatus", ("", *APPARATUS), ""),
        allowed=table.flag("allowed"),
    )
    if rule.most < rule.least:
        table.problem("most", "rules.most_below_least", least_s=rule.least)
    table.no_more()
    return rule


def check_routine(routine: Routine, counts: CountMap, code: RuleTable, *, age: str = SENIORS) -> tuple[RuleCheck, ...]:
    """Check a routine against a table of rules.

    Parameters
    ----------
    routine : Routine
    counts : CountMap
        Of its music, corrected.
    code : RuleTable
    age : str
        Age class, as the table calls it.

    Returns
    -------
    tuple of RuleCheck
        One for each rule that applies.

    Raises
    ------
    CoachError
        If the table has rows by age class and none for this one.
    """
    if code.ages and age.lower() not in [each.lower() for each in code.ages]:
        raise CoachError(
            "rules.no_age", where="--age", age=age, ages=list(code.ages), nearest=nearest(age, [*code.ages])
        )
    begin, end = routine.first_movement(counts), routine.last_movement(counts)
    found = []
    for rule in code.rules:
        if not rule.applies_to(routine.kind, age=age, apparatus=routine.apparatus):
            continue
        if rule.what == "length":
            found.append(_check_length(routine, rule, begin, end))
        elif rule.what == "introduction":
            found.append(_check_introduction(routine, rule, begin))
        elif rule.what == "words":  # whether anybody sings is not heard here
            found.append(RuleCheck(rule, None, None, kind=routine.kind))
        else:
            found.append(_check_steps(routine, rule, counts))
    return tuple(found)


def _check_length(routine: Routine, rule: Rule, begin: float, end: float) -> RuleCheck:
    beyond = rule.beyond(end - begin)
    unmarked = tuple(name for name, place in (("first", routine.first), ("last", routine.last)) if place is None)
    return RuleCheck(rule, beyond == 0, end - begin, beyond, rule.cost(beyond), kind=routine.kind, unmarked=unmarked)


def _check_introduction(routine: Routine, rule: Rule, begin: float) -> RuleCheck:
    beyond = rule.beyond(begin)
    return RuleCheck(rule, beyond == 0, begin, beyond, rule.cost(beyond), kind=routine.kind)


def _check_steps(routine: Routine, rule: Rule, counts: CountMap) -> RuleCheck:
    if not routine.steps:
        return RuleCheck(rule, None, None, kind=routine.kind)
    steps = tuple(
        (
            each.start.eight,
            float(
                counts.seconds_at(position_of(counts, each.end))
                - counts.seconds_at(position_of(counts, each.start), after=True)
            ),
        )
        for each in routine.steps
    )
    enough = sum(rule.beyond(length) == 0 for _, length in steps)
    shortest = min(length for _, length in steps)
    return RuleCheck(rule, enough >= rule.number, shortest, kind=routine.kind, steps=steps)
