"""Every error is a code with facts: its words stand in the report, once, and every word is said of an error."""

from __future__ import annotations

import ast
import inspect
import re
import string
from functools import cache
from pathlib import Path
from typing import NamedTuple

import pytest

import tempo_coach
from tempo_coach.report.words.errors import WORDS

TREE = Path(tempo_coach.__file__).parent
#: What makes an error, and which of its arguments without a name is the code.
MAKERS = {"CoachError": 0, "WrongUsage": 0, "Damaged": 0, "add": 1, "problem": 1}


class Made(NamedTuple):
    """An error that is made somewhere: its codes, and its facts, which are not known where some come as a mapping."""

    line: int
    codes: tuple[str, ...]
    facts: frozenset[str] | None
    literals: tuple[str, ...]


def errors_made(code: str) -> list[Made]:
    """All errors that a module makes with a code that is written out there."""
    tree = ast.parse(code)
    # a code that is chosen first stands under this name in the function around
    chosen = {
        (target.id, node.lineno): tuple(written(node.value))
        for node in ast.walk(tree)
        if isinstance(node, ast.Assign)
        for target in node.targets
        if isinstance(target, ast.Name)
    }
    found = []
    for node in ast.walk(tree):
        if not isinstance(node, ast.Call):
            continue
        name = node.func.id if isinstance(node.func, ast.Name) else getattr(node.func, "attr", "")
        at = MAKERS.get(name)
        if at is None or len(node.args) <= at:
            continue
        given = node.args[at]
        codes = tuple(written(given))
        if isinstance(given, ast.Name):
            before = [(line, each) for (known, line), each in chosen.items() if known == given.id]
            codes = max((each for each in before if each[0] < node.lineno), default=(0, ()))[1]
        if name in ("add", "problem") and not (codes and all(re.fullmatch(r"\w+\.\w+", each) for each in codes)):
            continue  # something else is added
        named = [each for each in node.keywords if each.arg != "where"]
        facts = None if any(each.arg is None for each in named) else frozenset(each.arg or "" for each in named)
        literals = tuple(text for each in named for text in texts(each.value))
        found.append(Made(node.lineno, codes, facts, (*codes, *literals)))
    return found


def written(node: ast.AST) -> list[str]:
    """The texts that a value may be: one, or either of two."""
    if isinstance(node, ast.IfExp):
        return [*written(node.body), *written(node.orelse)]
    return texts(node) if isinstance(node, (ast.Constant, ast.JoinedStr)) else []


def texts(node: ast.AST) -> list[str]:
    return [each.value for each in ast.walk(node) if isinstance(each, ast.Constant) and isinstance(each.value, str)]


def modules() -> list[Path]:
    return [path for path in sorted(TREE.rglob("*.py")) if "report/words/errors" not in path.as_posix()]


def asked_for(code: str) -> set[str]:
    """The facts without which the words of a code cannot be said."""
    entry = WORDS[code]
    names: set[str] = set()
    for form in entry if isinstance(entry, tuple) else (entry,):
        if isinstance(form, str):
            names |= {name for _, name, _, _ in string.Formatter().parse(form) if name}
        else:
            names |= set(inspect.signature(form).parameters)
    return names


@cache
def made_in() -> dict[Path, list[Made]]:
    """The errors that each module makes."""
    return {path: errors_made(path.read_text(encoding="utf-8")) for path in modules()}


def test_every_code_has_words_and_every_fact_that_they_tell():
    wrong = [
        f"{path.relative_to(TREE)}:{made.line}: {code}: {'no words' if code not in WORDS else asked_for(code)}"
        for path, several in made_in().items()
        for made in several
        for code in made.codes
        if code not in WORDS or (made.facts is not None and not asked_for(code) <= made.facts)
    ]
    assert not wrong


def test_all_words_are_said_of_an_error():
    program = "".join(path.read_text(encoding="utf-8") for path in modules())
    assert not [code for code in WORDS if f'"{code}"' not in program], "words that nothing says are let go"


def test_an_error_holds_no_sentence():
    told = [
        f"{path.relative_to(TREE)}:{made.line}: {text!r}"
        for path, several in made_in().items()
        for made in several
        for text in made.literals
        if " " in text.strip(" ,")
    ]
    assert not told, "a code with facts; its words stand in report/words/errors"


@pytest.mark.parametrize(
    ("code", "codes", "facts", "literals"),
    [
        ('raise CoachError("a.b", where="x y", n=1)', ("a.b",), {"n"}, ("a.b",)),
        ('raise CoachError("a.b" if n else "a.c")', ("a.b", "a.c"), set(), ("a.b", "a.c")),
        ('code = "a.b" if n else "a.c"\nraise WrongUsage(code, **facts)', ("a.b", "a.c"), None, ("a.b", "a.c")),
        ('problems.add(key, "a.b", said="no such thing")', ("a.b",), {"said"}, ("a.b", "no such thing")),
        ('raise CoachError(f"expected {n} of them")', ("expected ", " of them"), set(), ("expected ", " of them")),
        ('CoachError("a.b", said=f"{n} of {m}")', ("a.b",), {"said"}, ("a.b", " of ")),
    ],
)
def test_what_is_made_is_seen(code, codes, facts, literals):
    (made,) = errors_made(code)
    assert (made.codes, made.facts, made.literals) == (codes, facts, literals)


def test_what_is_added_to_something_else_is_none():
    assert errors_made('names.add("left")\nfound.add(1, "left")') == []
