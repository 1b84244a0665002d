"""Words are made last: nothing in the program searches a message, a hint or words that it made itself.

Rewording must change no number and no course. What says which error or which finding it is, is its class or its code.
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
#: Attributes that hold words for people.
WORDS = frozenset(
    {"message", "hint", "sentence", "help", "notice", "caution", "news", "now", "next", "number_means", "told", "said"}
)
#: Methods that look for something in a text.
SEARCHES = frozenset({
    *("startswith", "endswith", "find", "rfind", "index", "rindex", "split", "rsplit", "partition", "rpartition"),
    *("removeprefix", "removesuffix", "count"),
})  # fmt: skip
MATCHES = frozenset(["match", "search", "fullmatch", "findall", "finditer", "split"])


def searched(code: str) -> list[int]:
    """Lines of a module in which words for people are searched, compared with a text or taken apart."""
    tree = ast.parse(code)
    makers = {
        alias.asname or alias.name
        for node in ast.walk(tree)
        if isinstance(node, ast.ImportFrom) and (node.module or "").startswith("tempo_coach.report.words")
        for alias in node.names
        if alias.name.startswith(("tell", "say", "format"))
    }
    errors = {node.name for node in ast.walk(tree) if isinstance(node, ast.ExceptHandler) and node.name}
    return sorted({line for scope in _scopes(tree) for line in _searched_in(scope, makers, errors)})


def _scopes(tree: ast.AST) -> Iterator[ast.AST]:
    """Each function with what is inside it, and what stands outside of all functions, statement by statement."""
    for node in ast.iter_child_nodes(tree):
        if isinstance(node, ast.ClassDef):
            yield from _scopes(node)
        else:
            yield node


def _searched_in(scope: ast.AST, makers: set[str], errors: set[str]) -> list[int]:
    held: set[str] = set()
    for node in ast.walk(scope):
        if isinstance(node, ast.Assign) and _is_said(node.value, makers, errors):
            held |= {target.id for target in node.targets if isinstance(target, ast.Name)}

    def said(node: ast.AST) -> bool:
        return _is_said(node, makers, errors) or (isinstance(node, ast.Name) and node.id in held)

    found = []
    for node in ast.walk(scope):
        match node:
            case ast.Compare(left=left, ops=[ast.In() | ast.NotIn()], comparators=[right]):
                hit = said(right)
            case ast.Compare(left=left, ops=[ast.Eq() | ast.NotEq()], comparators=[right]):
                hit = (said(left) and _is_text(right)) or (said(right) and _is_text(left))
                hit |= _is_translated(left) or _is_translated(right)
            case ast.Call(func=ast.Attribute(attr=attr, value=value), args=args):
                hit = (attr in SEARCHES and said(value)) or (attr in MATCHES and any(map(said, args)))
            case _:
                continue
        if hit:
            found.append(node.lineno)
    return found


def _is_said(node: ast.AST, makers: set[str], errors: set[str]) -> bool:
    """Whether something is words for people: a message, what a caught error says, what the report makes."""
    match node:
        case ast.Attribute(attr=attr):
            return attr in WORDS
        case ast.Call(func=ast.Name(id="str"), args=[ast.Name(id=name)]):
            return name in errors
        case ast.Call(func=ast.Name(id=name)):
            return name in makers or _is_translated(node)
        case ast.Call(func=ast.Attribute(attr="lower" | "strip" | "casefold", value=value)):
            return _is_said(value, makers, errors)
        case ast.BoolOp(values=values):
            return any(_is_said(value, makers, errors) for value in values)
    return False


def _is_translated(node: ast.AST) -> bool:
    """Whether something is looked up in a catalogue on the spot."""
    return isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id in {"tr", "tr_as", "tr_n"}


def _is_text(node: ast.AST) -> bool:
    """Whether something is a text that is written out; an empty one asks only whether there is any."""
    return isinstance(node, ast.JoinedStr) or (
        isinstance(node, ast.Constant) and isinstance(node.value, str) and node.value != ""
    )


#: Where it is right: TOML's reader says in words alone which line it is; a title that a person wrote is shortened.
RIGHT = {"pattern/drill/toml_tables.py", "coach/routine_course.py"}


def test_nothing_searches_what_was_said():
    found = {
        f"{name}:{line}"
        for path in sorted(TREE.rglob("*.py"))
        if (name := path.relative_to(TREE).as_posix()) not in RIGHT
        for line in searched(path.read_text(encoding="utf-8"))
    }
    assert not found, "a class of error or a code says what it is"


@pytest.mark.parametrize(
    "code",
    [
        'if "damaged" not in error.message: pass',
        'def f(each): return each.sentence.split(": ")',
        'def f(key): return key.help.startswith("this eight")',
        'def f(row): said = row.hint or ""; return said.partition(" ")[0]',
        'try: pass\nexcept OSError as error:\n    def f(): return "full" in str(error)',
        'from tempo_coach.report.words.card import tell\ndef f(card): return tell(card) == "Even."',
        'import re\ndef f(error): return re.search("[0-9]+", error.message.lower())',
        'def f(error): return "damaged" in error.message',
        'class A:\n    async def f(self, error): return "damaged" in error.message',
        'def f(picture): return "done" != picture.now',
        'def f(picture): return picture.now.strip() == "done"',
        "def f(label): return tr(label) != label",
        'def f(label): return label == tr_as("phase", label)',
        'def f(label): return "late" in tr(label)',
        'def f(label): shown = tr(label); return shown.endswith("?")',
    ],
)
def test_a_search_is_seen(code):
    assert searched(code)


@pytest.mark.parametrize(
    "code",
    [
        'def f(error): return f"{error.where}: {error.message}"',
        'def f(error): return error.message == "" or error.code == "damaged"',
        'def f(words): return "late" in words.split()',
    ],
)
def test_what_is_only_shown_is_none(code):
    assert not searched(code)


def sentences(code: str) -> list[int]:
    """Lines of a module with words for people, those of errors and docstrings aside: five words, or a full stop."""
    tree = ast.parse(code)
    aside: set[int] = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.Raise):
            aside |= {id(each) for each in ast.walk(node)}
        elif isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant):
            aside.add(id(node.value))
    texts = [node for node in ast.walk(tree) if isinstance(node, ast.Constant) and isinstance(node.value, str)]
    return [
        node.lineno
        for node in texts
        if id(node) not in aside and (len(node.value.split()) > 4 or (" " in node.value and node.value.endswith(".")))
    ]


#: Names of series for a caller's bug, codes of more than four words; a drill's file and the title of a plan, which are
#: what a person writes; where bodies and scores are from.
NO_SENTENCES = {"page_words.py", "clock.py", "boomerang.py", "template.py", "every_count.py", "bodies.py"}


@pytest.mark.parametrize(
    "package", ["live", "observe", "score", "pattern", "music", "coach/counting", "coach/practising"]
)
def test_below_the_report_and_in_the_flow_there_are_codes_and_no_sentences(package):
    found = {
        f"{path.name}:{line}"
        for path in sorted((TREE / package).rglob("*.py"))
        if path.name not in NO_SENTENCES and "training" not in path.parts
        for line in sentences(path.read_text(encoding="utf-8"))
    }
    assert not found, "a code with arguments (live/notices.py, reasons.py), its words in report/words"


def test_a_sentence_is_found_and_an_error_and_a_docstring_are_left():
    assert (
        sentences('news = "The sound is back."')
        == sentences('note = f"the sound of {name} is no longer there now"')
        == [1]
    )
    assert sentences('"""The sound is back."""\nraise ValueError("the sound is no longer there")') == []
