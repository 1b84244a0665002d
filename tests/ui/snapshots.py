"""Texts of screens, kept beside the tests: ``TEMPO_COACH_NEW_SNAPSHOTS=1`` writes them anew, to be looked at."""

import os
from pathlib import Path

FOLDER = Path(__file__).parent / "snapshots"


def check(name: str, rows: list[str], *, width: int, height: int) -> None:
    """Compare the rows of a screen with those that were kept."""
    assert len(rows) == height, name
    path = FOLDER / f"{name}_{width}x{height}.txt"
    text = "\n".join(row.rstrip() for row in rows) + "\n"
    if os.environ.get("TEMPO_COACH_NEW_SNAPSHOTS"):
        FOLDER.mkdir(exist_ok=True)
        path.write_text(text, encoding="utf-8")
    assert text == path.read_text(encoding="utf-8"), f"{name} looks another way than {path.name}"
