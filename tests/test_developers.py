"""The contributors' map: folders say what lives in them, and the walks go through functions that exist."""

from __future__ import annotations

import ast
import re
from importlib import import_module
from pathlib import Path

import pytest

import tempo_coach

ROOT = Path(__file__).parent.parent
WALKS = re.findall(r"`([a-z_]+(?:\.[a-z_]+)+\.[A-Za-z_]+)`", (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8"))
MODULES = sorted(Path(tempo_coach.__file__).parent.rglob("*.py"))
#: Names of modules in several packages: the same thing at another layer, as values, in words, on a page, a screen, as a
#: command.
AT_EVERY_LAYER = {
    "broken", "card", "counts", "cut", "demo", "drill", "drills", "film", "flights", "forget", "form", "group",
    "history", "learn", "music_map", "notices", "observers", "practise", "rules", "screen", "sharing",
    "sheet", "todays_list", "toss", "trace",
}  # fmt: skip


@pytest.mark.parametrize("step", sorted(set(WALKS)))
def test_every_step_of_a_walk_is_there(step: str) -> None:
    module, name = step.rsplit(".", 1)
    try:
        assert hasattr(import_module(f"tempo_coach.{module}"), name)
    except ModuleNotFoundError:
        import_module(f"tempo_coach.{step}")


def test_the_walks_are_whole() -> None:
    numbered = re.findall(r"^\d+\. .*$", (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8"), re.MULTILINE)
    assert len(numbered) == 48


@pytest.mark.parametrize("path", MODULES, ids=lambda path: str(path.relative_to(ROOT)))
def test_the_head_of_a_module_says_what_it_is(path: Path) -> None:
    head = ast.get_docstring(ast.parse(path.read_text(encoding="utf-8")))
    assert head
    assert head.split()[0] not in {"What", "How", "Which", "Where", "Whether"}


@pytest.mark.parametrize(
    "path",
    [path for path in MODULES if path.name == "__init__.py" and "training" not in path.parts],
    ids=lambda path: str(path.parent.relative_to(ROOT)),
)
def test_a_package_says_in_some_lines_what_lives_in_it(path: Path) -> None:
    head = ast.get_docstring(ast.parse(path.read_text(encoding="utf-8"))) or ""
    inside = {each.stem for each in path.parent.iterdir() if each.suffix == ".py" or each.is_dir()}
    named = {name.split(".")[0] for name in re.findall(r"``([A-Za-z_.]+)``", head)}
    named |= set(re.findall(rf":mod:`tempo_coach\.(?:{path.parent.name}\.)?(\w+)`", head))
    assert 3 < len(head.splitlines()) < 17
    assert named & inside
    functions = {"add", "run", "say_error"}
    assert named <= inside | {"coach", "sqlite3", *functions}, "a module that is not there"


def test_no_name_of_a_class_stands_for_two_things() -> None:
    """Private ones aside: they are read in one module."""
    found = [
        node.name
        for path in MODULES
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(node, ast.ClassDef) and not node.name.startswith("_")
    ]
    assert len(found) > 250
    assert sorted(name for name in set(found) if found.count(name) > 1) == []


def test_no_name_of_a_module_stands_for_two_things() -> None:
    elsewhere = {"training", "errors", "reasons"}  # no part of the wheel; modules named like what they are about
    named = [path for path in MODULES if path.stem not in {"__init__", "__main__"}]
    names = [path.stem for path in named if elsewhere.isdisjoint(path.parts)]
    assert {name for name in names if names.count(name) > 1} == AT_EVERY_LAYER


#: Annotations of arrays, and what says of one how it is shaped: in words, or as numpy prints a shape.
ARRAY = re.compile(r"\b(Floats|Bools|Ints|NDArray|ndarray|ArrayLike|Curve|Matrix|Mono|Wave|Plane)\b")
SCALAR_TOO = re.compile("Callable|float$")
SHAPED = re.compile(r"shape|length n|(^|[\s])\([\w., +*/-]+\)")


@pytest.mark.parametrize("package", ["music", "observe", "score"])
def test_public_functions_say_the_shapes_of_their_arrays(package: str) -> None:
    """As numpydoc asks; a function of a number or an array alike, and one that says "As in" another, are left out."""
    unsaid, seen = [], 0
    for path in sorted((ROOT / "tempo_coach" / package).rglob("*.py")):
        if "training" in path.parts:
            continue
        for node in ast.parse(path.read_text(encoding="utf-8")).body:
            if not isinstance(node, ast.FunctionDef) or node.name.startswith("_"):
                continue
            doc = ast.get_docstring(node) or ""
            types = {
                each.arg: ast.unparse(each.annotation)
                for each in [*node.args.posonlyargs, *node.args.args, *node.args.kwonlyargs]
                if each.annotation is not None
            }
            arrays = [
                arg for arg, kind in types.items() if ARRAY.search(kind) and not re.search("Callable|float$", kind)
            ]
            if not arrays or re.search(r"[Ss]ee :|[Aa]s in :|[Aa]s :", doc):
                continue
            seen += len(arrays)
            for arg in arrays:
                entry = re.search(rf"^(?:[\w, ]+, )?{arg}(?:, [\w, ]+)? : (.+)$", doc, re.MULTILINE)
                if not (entry and SHAPED.search(entry.group(1))) and "shape (" not in doc:
                    unsaid.append(f"{path.relative_to(ROOT)} {node.name} {arg}")
    assert seen > 20
    assert unsaid == []
