"""Cache of found beats, keyed by the content of the sound file, so that each file is analysed once."""

from __future__ import annotations

import contextlib
import hashlib
import json
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

from tempo_coach.music.beats.finder import Beats, Doubt, Rest
from tempo_coach.reasons import Reason, Why
from tempo_coach.resources import cache_folder, content_hash

if TYPE_CHECKING:
    from collections.abc import Mapping

#: So many pieces are kept; what was not asked for longest goes first. One is some 10 KB.
_MOST = 300
_FOLDER = "heard"


def name_hearing(path: str | Path, hints: Mapping[str, float | None]) -> str:
    """Return the key of a result: content of the file, hints, and a hash of everything that finds beats.

    Parameters
    ----------
    path : str or Path
    hints : mapping
        Whatever else the beats depend on.

    Raises
    ------
    CoachError
        If the file cannot be read.
    """
    told = json.dumps([content_hash(path), _finder_hash(), sorted(hints.items())])
    return hashlib.sha256(told.encode()).hexdigest()


@cache
def _finder_hash() -> str:
    """Return a hash of the modules and weights that find beats, so that a new version analyses anew.

    A file is known by its size and by when it was written, as the interpreter knows its own modules.
    """
    found = hashlib.sha256()
    folder = Path(__file__).parent
    for path in sorted([*folder.glob("*.py"), *folder.glob("weights/*.npz")]):
        told = path.stat()
        found.update(f"{path.name} {told.st_size} {told.st_mtime_ns}".encode())
    return found.hexdigest()


def find_heard(name: str) -> Beats | None:
    """Return the beats cached under a key, or None."""
    path = cache_folder(_FOLDER) / f"{name}.json"
    # whatever is wrong with a file of the cache, the music is simply heard again
    with contextlib.suppress(OSError, ValueError, TypeError, KeyError, IndexError):
        values = json.loads(path.read_text(encoding="utf-8"))
        path.touch()
        return _from_values(values)
    return None


def keep_heard(name: str, beats: Beats) -> None:
    """Cache beats under a key; where that fails for lack of room, nothing is cached."""
    folder = cache_folder(_FOLDER)
    with contextlib.suppress(OSError):
        unfinished = folder / f"{name}.part"
        unfinished.write_text(json.dumps(_to_values(beats)), encoding="utf-8")
        unfinished.replace(folder / f"{name}.json")
        oldest_first = sorted(folder.glob("*.json"), key=lambda path: path.stat().st_mtime)
        for path in oldest_first[:-_MOST]:
            path.unlink()


def _to_values(beats: Beats) -> dict[str, Any]:
    return {
        "times": beats.times.tolist(),
        "bar": beats.bar.tolist(),
        "confidence": beats.confidence.tolist(),
        "rests": [list(rest) for rest in beats.rests],
        "doubtful": [[time, str(reason.code), list(reason.args), end] for time, reason, end in beats.doubtful],
        "duration": beats.duration,
        "eights": [list(eight) for eight in beats.eights],
    }


def _from_values(values: Mapping[str, Any]) -> Beats:
    return Beats(
        values["times"],
        values["bar"],
        values["confidence"],
        tuple(Rest(*rest) for rest in values["rests"]),
        tuple(Doubt(time, Reason._make((Why(why), tuple(args))), end) for time, why, args, end in values["doubtful"]),
        float(values["duration"]),
        tuple((int(start), int(length)) for start, length in values["eights"]),
    )
