"""The contributors' map: every module of the larger folders is found in it."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
MAPPED = ("music", "pattern", "observe", "score", "report", "live", "history", "ui")


def names_of(folder: str) -> list[str]:
    """What the rows of a folder name, in the table of three columns; a name may end in ``*``."""
    names: list[str] = []
    inside = ""
    for line in (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8").splitlines():
        cells = line.split("|")[1:-1]
        if len(cells) == 3:
            inside = cells[0].strip(" `/") or inside
            names += re.findall(r"`(\w+\*?)`", cells[2]) if inside == folder else []
    return names


@pytest.mark.parametrize("folder", MAPPED)
def test_every_module_is_found_in_the_map(folder: str) -> None:
    names = names_of(folder)
    patterns = [re.compile(name.replace("*", r"\w+")) for name in names]
    for path in sorted((ROOT / "tempo_coach" / folder).glob("[!_]*.py")):
        assert any(each.fullmatch(path.stem) for each in patterns), (
            f"{folder}/{path.name} has no place in DEVELOPERS.md"
        )
    assert len(set(names)) == len(names), "a module stands in one place"
