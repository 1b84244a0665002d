"""Reasons in words: each code has some, which take as many arguments as the program gives it."""

import ast
from collections.abc import Iterator
from functools import cache
from inspect import signature
from pathlib import Path
from string import Formatter

import pytest

import tempo_coach
from tempo_coach.reasons import Reason, Why
from tempo_coach.report.words.reasons import WORDS, say_reason, say_reasons

TREE = Path(tempo_coach.__file__).parent


@cache
def given() -> tuple[tuple[str, int], ...]:
    """Codes and numbers of arguments of every reason that the program makes, where these are written out."""
    return tuple(_given())


def _given() -> Iterator[tuple[str, int]]:
    for path in sorted(TREE.rglob("*.py")):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if not (isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id == "Reason"):
                continue
            code, *rest = node.args
            assert isinstance(code, ast.Attribute), f"{path}: a code of Why is expected"
            arguments = rest[0].elts if rest and isinstance(rest[0], ast.Tuple) else []
            if not any(isinstance(each, ast.Starred) for each in arguments):
                yield code.attr, len(arguments)


def takes(code: Why) -> int:
    """Arguments that the words of a code have room for."""
    words = WORDS[code]
    if not isinstance(words, str):
        return len(signature(words).parameters)
    fields = [name for _, name, _, _ in Formatter().parse(words) if name is not None]
    return max(int(name) + 1 for name in fields) if fields and fields[0] else len(fields)


def test_every_code_has_words_and_is_given():
    assert set(WORDS) == set(Why)
    assert {name for name, _ in given()} | {"ELSEWHERE"} == {code.name for code in Why}


def test_words_have_room_for_what_is_given():
    for name, number in given():
        assert takes(Why[name]) == number, name


@pytest.mark.parametrize(
    ("reason", "said"),
    [
        (None, ""),
        (Reason(Why.FITTED, (0.876,)), "(confidence 0.88), so how early or late all of it was cannot be told"),
        (Reason(Why.NOT_MEASURABLE, (3, 40)), "3 of 40 moments lie where sound or clock failed; not scored"),
        (Reason(Why.DOUBLE_ONSETS, ("Bea", 1)), "Bea: 1 onset at the instant of another one"),
        (Reason(Why.DOUBLE_ONSETS, ("Bea", 2)), "Bea: 2 onsets at the instant of another one"),
        (Reason(Why.ELSEWHERE, ("{Eva}", 7, 1.04, 9.96)), "none of the 7 onsets of {Eva} lies at a moment of the plan"),
        (Reason(Why.ELSEWHERE, ("Eva", 7, 1.04, 9.96)), "(they go from 1.0 to 10.0 s): check her clock"),
        (Reason(Why.TILTED, (90.0,)), "their main axes are 90° apart"),
    ],
)
def test_arguments_stand_in_the_words(reason, said):
    assert said in say_reason(reason)
    assert say_reasons({"here": reason} if reason else {}) == ({"here": say_reason(reason)} if reason else {})
