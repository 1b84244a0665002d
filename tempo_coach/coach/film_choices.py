"""Choices for a film, remembered for the next time: which marker is whose, what is left out.

A film is known by its content, so that it may be moved or renamed, and nothing is written beside it.
"""

from __future__ import annotations

import hashlib
import json
import os
from pathlib import Path
from typing import TYPE_CHECKING

from tempo_coach.errors import CoachError
from tempo_coach.history.data_folder import data_folder
from tempo_coach.resources import written_whole

if TYPE_CHECKING:
    from collections.abc import Mapping

FILE_NAME = "films.json"
#: Films that are kept in mind, the latest; bytes of a film's ends that tell which one it is.
MOST_FILMS, ENDS = 500, 1 << 20


def recall_film(path: str | Path, *, folder: Path | None = None) -> dict[str, str]:
    """Return the last choices for a film; empty without any, or where they are unreadable.

    Parameters
    ----------
    path : str or Path
        The film.
    folder : Path or None
        Where choices lie; the data folder where nothing is given.
    """
    name = fingerprint(path)
    return _read(folder).get(name, {}) if name else {}


def keep_film(path: str | Path, chosen: Mapping[str, str], *, folder: Path | None = None) -> None:
    """Keep the choices for a film, if the folder can be written to.

    Parameters
    ----------
    path : str or Path
        The film.
    chosen : mapping of str to str
        Lines of its form, by their keys.
    folder : Path or None
        As in :func:`recall_film`.
    """
    name = fingerprint(path)
    if not name:
        return
    kept = _read(folder)
    kept.pop(name, None)
    kept[name] = dict(chosen)
    file = _file(folder)
    try:
        file.parent.mkdir(parents=True, exist_ok=True)
        with written_whole(file) as made:
            latest = dict(list(kept.items())[-MOST_FILMS:])
            made.write_text(json.dumps(latest, ensure_ascii=False, indent=1), encoding="utf-8")
    except (OSError, CoachError):
        return


def fingerprint(path: str | Path) -> str:
    """Return a fingerprint of a film from its size and both ends; empty where it is unreadable."""
    try:
        with Path(path).open("rb") as file:
            size = os.fstat(file.fileno()).st_size
            digest = hashlib.sha256(f"{size}".encode() + file.read(ENDS))
            file.seek(max(size - ENDS, 0))
            digest.update(file.read(ENDS))
    except OSError:
        return ""
    return digest.hexdigest()


def _file(folder: Path | None) -> Path:
    return (folder or data_folder()) / FILE_NAME


def _read(folder: Path | None) -> dict[str, dict[str, str]]:
    """Return all choices, the latest last; a damaged file is replaced."""
    try:
        kept = json.loads(_file(folder).read_text(encoding="utf-8"))
        return {str(film): {str(key): str(value) for key, value in of.items()} for film, of in kept.items()}
    except (OSError, ValueError, AttributeError):
        return {}
