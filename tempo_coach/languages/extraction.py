"""The sentences of the program, found in its source: the keys of every catalogue.

A sentence stands where it is said: as the first argument of :func:`tempo_coach.languages.tr` or of another function
that looks up what it is given (:data:`LOOKS_UP`), or in a table of words, which is looked up as it is used.
"""

from __future__ import annotations

import ast
import re
import tomllib
from typing import TYPE_CHECKING, NamedTuple

from tempo_coach.languages import DAY, MONTHS, NUMBER, OWN_NAME, PERCENT, SENSE, SHORT_MONTHS, WEEKDAYS

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

#: Functions that look up texts that they are given, and which of their arguments these are: places or names.
LOOKS_UP: dict[str, tuple[int | str, ...]] = {
    "tr": (0,),
    "Binding": (2,),
    "scroll_keys": (0,),
    "Progress": (0,),
    "say": (0,),
    "_note": (0,),
    "add_argument": ("help", "metavar"),
    "add_argument_group": (0, "title", "description"),
    "add_parser": ("help",),
    "add_subparsers": ("metavar", "title"),
    "Parser": ("description",),
    "refuse_unused": (2,),
    "Line": (1, 3, "label", "unit", "default"),
    "Help": (0, 1, 2, 3),
    "or_else": (0,),
    "join_words": (1,),
    "grid_x": ("name",),
    "grid_y": ("name",),
    "Table": (0,),
    "Key": (2, 3),
    "Checkup": (0,),
    "PhoneRole": (0,),
    "Figure": (0, 1),
    "render": ("title", "small_print"),
    "replace": ("now", "number_means", "next", "next_in", "place"),
    "bar": (0,),
    "PracticePicture": ("now", "number_means", "next", "next_in", "place"),
    "ObserverWords": (0, 1, 2, 3),
    "MeasureWords": (0, 1, 2, 3, "card", "page", "pair", "course"),
}
#: Where something is said; below that there are codes alone.
SAID_IN = tuple(
    f"tempo_coach/{name}" for name in ("cli/", "ui/", "demo.py", "coach/", "live/", "pattern/drill/template", "report/")
)
#: Names that are set to a text which is looked up, as values of a class and of its objects.
SET = {"heading", "reading", "care", "description", "title"}
#: Folders in which every table of a module is one of words; elsewhere it is one by its name.
TABLES_IN = ("report/",)
TABLES = re.compile(
    r"_?[A-Z_]*(WORDS|HELPS?|COMMANDS|CARE|VIEWS|SIGNS_IN_WORDS|WORD_SIGNS|GROUPS|OVER)|NONE_[A-Z_]+|AS_[A-Z]+|CLICKED|ALL_EIGHTS"
)
_TABLE = re.compile(r"[A-Z][A-Z_0-9]*|_[A-Z][A-Z_0-9]*")
#: Tables there that hold none for her: of the README, of files.
NOT_SAID = {"MEANINGS", "_PHASES", "BROWSERS", "PLACES", "LINES", "_CODERS", "BLUE", "VERMILION", "PALE", "INK"}
#: Texts of a drill's file, of moves and of rules that are looked up where those of the program are shown.
DRILL_TEXTS = {
    *("title", "trains", "caution", "notes", "source", "fault", "say", "label", "name"),
    *("plane", "direction", "sense", "kind", "apparatus"),
}


class Sentence(NamedTuple):
    """A key of the catalogues: a text, or its singular and plural."""

    text: str | tuple[str, str]
    file: str


class _Text(NamedTuple):
    """A text of the source, and which node of its tree it is."""

    node: int
    text: str


def find_sentences(root: Path) -> Iterator[Sentence]:
    """Yield all sentences of the program and its drills.

    Parameters
    ----------
    root : Path
        Of the repository.
    """
    yield from (
        Sentence(sample, "tempo_coach/languages/__init__.py")
        for sample in (NUMBER, PERCENT, OWN_NAME, DAY, *MONTHS, *SHORT_MONTHS, *WEEKDAYS)
    )
    for path in sorted((root / "tempo_coach").rglob("*.py")):
        name = path.relative_to(root).as_posix()
        if name.startswith(SAID_IN):
            yield from (Sentence(text, name) for text in find_in_code(path.read_text(encoding="utf-8"), name))
    for path in sorted((root / "tempo_coach/report/pages/templates").glob("*.html")):
        name = path.relative_to(root).as_posix()
        yield from (Sentence(text, name) for text in find_in_template(path.read_text(encoding="utf-8")))
    for path in sorted((*(root / "drills").rglob("*.toml"), *(root / "tempo_coach/pattern").rglob("*.toml"))):
        name = path.relative_to(root).as_posix()
        yield from (Sentence(text, name) for text in _find_in_drill(tomllib.loads(path.read_text(encoding="utf-8"))))


def find_in_code(code: str, name: str) -> Iterator[str | tuple[str, str]]:
    """Yield the sentences of a module."""
    tree = ast.parse(code)
    tables = [table for table in map(_table_of, tree.body) if table and _is_of_words(table[0], name)]
    within = {text.node: text.text for _, value in tables for text in _texts(value)}
    for node in ast.walk(tree):
        if isinstance(node, ast.Call):
            yield from _find_in_call(node)
        elif id(node) in within:
            yield from _split(within[id(node)])
        elif isinstance(node, ast.Assign) and any(_name_of(target) in SET for target in node.targets):
            for text in _texts(node.value):
                yield from _split(text.text)


def find_in_template(text: str) -> Iterator[str | tuple[str, str]]:
    """Yield the sentences of a template of pages: what is looked up there, by itself or by macros."""
    for found in re.finditer(r'(?:\btr\(|\bitems\(|, name=)"((?:[^"\\]|\\.)*)"', text):
        yield from _split(found[1])


def _find_in_drill(table: object) -> Iterator[str]:
    if isinstance(table, dict):
        for key, value in table.items():
            if key in DRILL_TEXTS and isinstance(value, str):
                yield value
            if key == "phase":
                yield from (f"phase{SENSE}{phase['name']}" for phase in value)
            yield from _find_in_drill(value)
    elif isinstance(table, list):
        for each in table:
            yield from _find_in_drill(each)


def _find_in_call(node: ast.Call) -> Iterator[str | tuple[str, str]]:
    name = node.func.id if isinstance(node.func, ast.Name) else getattr(node.func, "attr", "")
    if name == "tr_n" and len(node.args) > 1:
        for one, many in zip(*map(_texts, node.args[:2]), strict=True):
            yield one.text, many.text
    if name == "several":
        for thing in [each.text for each in _texts(node.args[1])]:
            yield f"{{number}} {thing}", f"{{number}} {thing}s"
    if name == "tr_as" and len(node.args) > 1:
        senses, words = map(_texts, node.args[:2])
        yield from (f"{sense.text}{SENSE}{word.text}" for sense, word in zip(senses, words, strict=False))
    for at in LOOKS_UP.get(name, ()):
        if isinstance(at, int):
            values = node.args[at : at + 1]
        else:
            values = [each.value for each in node.keywords if each.arg == at]
        for value in values:
            for text in _texts(value):
                yield from _split(text.text)


def _table_of(node: ast.stmt) -> tuple[str, ast.expr] | None:
    match node:
        case ast.Assign(targets=[ast.Name(id=name) | ast.Tuple(elts=[ast.Name(id=name), *_])], value=value):
            return name, value
        case ast.AnnAssign(target=ast.Name(id=name), value=ast.expr() as value):
            return name, value
    return None


def _name_of(node: ast.expr) -> str:
    return node.id if isinstance(node, ast.Name) else getattr(node, "attr", "")


def _is_of_words(table: str, module: str) -> bool:
    if table in NOT_SAID:
        return False
    return bool(TABLES.fullmatch(table) or (any(each in module for each in TABLES_IN) and _TABLE.fullmatch(table)))


def _texts(node: ast.expr) -> Iterator[_Text]:
    """Yield the texts of an expression, without keys, conditions, and results of functions."""
    match node:
        case ast.Constant(value=str() as text):
            yield _Text(id(node), text)
        case ast.Dict(values=values):
            for value in values:
                yield from _texts(value)
        case ast.Tuple(elts=parts) | ast.List(elts=parts) | ast.Set(elts=parts):
            for part in parts:
                yield from _texts(part)
        case ast.Starred(value=value):
            yield from _texts(value)
        case ast.IfExp(body=body, orelse=other):
            yield from _texts(body)
            yield from _texts(other)
        case ast.BoolOp(values=values):
            for value in values:
                yield from _texts(value)
        case ast.BinOp(left=left, right=right, op=ast.BitOr()):
            yield from _texts(left)
            yield from _texts(right)


def _split(text: str) -> Iterator[str]:
    """Yield the paragraphs of a text, each on one line, if there is anything to say in it."""
    parts = text.split("\n\n") if "\n" in text else [text]
    for part in parts:
        shown = " ".join(part.split()) if "\n" in text else part
        around = re.sub(r"\{[^}]*\}", "", shown)
        # signs between places go with the language too: French has a space before a colon
        if re.search(r"[^\W\d_]", around) or ("{" in shown and re.search("[:;“”]", around)):
            yield shown
