"""Drills by their names: read, mirrored, for one hand."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from tempo_coach.languages import tr
from tempo_coach.pattern.drill.drill import Drill
from tempo_coach.pattern.drill.template import read_circles, write_new_drill

if TYPE_CHECKING:
    from pathlib import Path

__all__ = [
    "Drill",
    "drill_beside",
    "list_names_of_drills",
    "list_titles",
    "load_drill",
    "own_drills",
    "read_circles",
    "read_drills",
    "write_new_drill",
]


def load_drill(name: str, *, mirrored: bool = False, hand: str | None = None) -> Drill:
    """Return a drill by name or path, optionally mirrored or for one hand.

    Raises
    ------
    CoachError
        If there is none, it cannot be read, or it has no such hand.
    """
    from tempo_coach.pattern.drill.drill_file import find_drill, read_drill

    drill = read_drill(find_drill(name))
    drill = replace(drill, pattern=drill.pattern.mirrored()) if mirrored else drill
    return drill.with_one_hand(hand) if hand else drill


def read_drills() -> list[Drill]:
    """Return the drills that come with the program.

    Raises
    ------
    CoachError
        If one of them cannot be read.
    """
    from tempo_coach.pattern.drill.drill_file import list_drills, read_drill

    return [read_drill(path) for path in list_drills()]


def own_drills() -> Path:
    """Return the folder of the drills that this person made, which may not be there yet."""
    from tempo_coach.history.data_folder import data_folder

    return data_folder() / "drills"


def list_names_of_drills() -> list[str]:
    """Return the names of the drills that come with the program."""
    from tempo_coach.pattern.drill.drill_file import list_drills

    return [path.stem for path in list_drills()]


def drill_beside(routine: Path, name: str) -> str:
    """Return the name of a drill, or the path of one of her own, which lies beside the routine that names it."""
    path = routine.parent / name
    return str(path) if path.suffix == ".toml" else name


def list_titles(own: Path) -> dict[str, str]:
    """Return the title of each drill, those that come with the program and those in a folder, by name.

    They are in order of their apparatus, then of their titles; files that cannot be read are left out.
    """
    from tempo_coach.errors import CoachError
    from tempo_coach.pattern.drill.drill_file import APPARATUS, list_drills, read_drill

    found: list[tuple[int, str, str]] = []
    files = [(path.stem, path) for path in list_drills()] + [(str(path), path) for path in list_drills(own)]
    for name, path in files:
        try:
            drill = read_drill(path)
        except CoachError:
            continue
        found.append((APPARATUS.index(drill.apparatus), tr(drill.title), name))
    return {name: title for _, title, name in sorted(found)}
