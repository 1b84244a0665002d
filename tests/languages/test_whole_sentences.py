"""A sentence is looked up whole: nothing in it is a word that was chosen and translated by itself.

Word order, cases and genders differ: a translator who gets "too {length}" and "long" apart cannot make them agree.
"""

from __future__ import annotations

import ast
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

import tempo_coach

if TYPE_CHECKING:
    from collections.abc import Iterator

TREE = Path(tempo_coach.__file__).parent
LOOK_UP = ("tr", "tr_n", "tr_as")


def glued(code: str) -> list[int]:
    """Lines of a module in which a sentence gets one of two words in a place."""
    found: list[int] = []
    for scope in ast.walk(ast.parse(code)):
        if isinstance(scope, ast.FunctionDef | ast.AsyncFunctionDef):
            found += _glued_in(scope)
    return sorted(set(found))


def _glued_in(scope: ast.AST) -> Iterator[int]:
    held: dict[str, ast.expr] = {}
    for node in ast.walk(scope):
        match node:
            case ast.Assign(targets=[ast.Name(id=name)], value=value):
                held[name] = value
            case ast.Assign(targets=[ast.Tuple(elts=names)], value=ast.IfExp() as chosen):
                for at, each in enumerate(names):
                    if (
                        isinstance(each, ast.Name)
                        and isinstance(chosen.body, ast.Tuple)
                        and isinstance(chosen.orelse, ast.Tuple)
                    ):
                        held[each.id] = ast.IfExp(chosen.test, chosen.body.elts[at], chosen.orelse.elts[at])
    for node in ast.walk(scope):
        if _looks_up(node):
            for each in node.keywords:
                value = held.get(each.value.id, each.value) if isinstance(each.value, ast.Name) else each.value
                if isinstance(value, ast.IfExp) and all(map(_is_word, (value.body, value.orelse))):
                    yield node.lineno


def _looks_up(node: ast.AST) -> bool:
    return isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id in LOOK_UP


def _is_word(node: ast.AST) -> bool:
    """Whether something is a word that is looked up by itself: up to three words without a place."""
    if not (_looks_up(node) and node.args and isinstance(node.args[0], ast.Constant)):
        return False
    text = node.args[0].value
    return "{" not in text and len(text.split()) <= 3


def test_no_sentence_is_put_together_of_words_that_were_chosen():
    found = {
        f"{path.relative_to(TREE).as_posix()}:{line}"
        for path in sorted(TREE.rglob("*.py"))
        if "tr(" in (code := path.read_text(encoding="utf-8"))
        for line in glued(code)
    }
    assert not found, "a sentence of its own for each of them"


@pytest.mark.parametrize(
    "code",
    [
        'def f(x):\n    way = tr("early") if x < 0 else tr("late")\n    return tr("You let go too {way}.", way=way)',
        'def f(x):\n    return tr("It {how}.", how=tr("slows down") if x else tr("speeds up"))',
        'def f(x):\n    a, b = (tr("long"), 1) if x else (tr("short"), 2)\n    return tr("Too {a}: {b}.", a=a, b=b)',
    ],
)
def test_a_word_in_a_place_is_seen(code):
    assert glued(code)


def test_whole_sentences_and_names_are_let_through():
    assert not glued('def f(x):\n    return tr("You let go early." if x < 0 else "You let go late.")')
    assert not glued('def f(x):\n    return tr("Playing through {name}.", name=tr(x))')
