"""The terminal that the screens draw on: whether there is one, kept to itself, and handed to what was asked for.

The screen needs descriptor 2 for itself: C libraries write their complaints to it, and Textual draws there. While the
screens are up, Textual draws on a copy of it, and whatever else is written to it goes to a log.
"""

from __future__ import annotations

import contextlib
import os
import sys
import tempfile
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from tempo_coach.errors import CoachError
from tempo_coach.history.records import SOMEBODY
from tempo_coach.signs import IN_COLUMNS

if TYPE_CHECKING:
    from collections.abc import Iterator

    from textual.app import App

    from tempo_coach.coach import OpenRoutine, Request
    from tempo_coach.ui.go import Go


def run_screens(
    go: Go | None = None, *, request: Request | None = None, device: str | None = None, athlete: str = SOMEBODY
) -> tuple[tuple[Path | None, ...], tuple[Path, ...]]:
    """Open the screens and return where the takes of the first practice lie, and which the history did not take.

    Parameters
    ----------
    go : Go or None
        What to practise at once; without it the set-up comes first.
    request, device, athlete
        What the set-up shows.

    Returns
    -------
    (paths, unkept)
        None is in memory alone.

    Raises
    ------
    CoachError
        If there is no terminal to draw on, the practice cannot go on, or the screens ended on their own.
    """
    check_terminal()
    from tempo_coach.pattern.drillfile import list_drills
    from tempo_coach.ui.app import CoachApp
    from tempo_coach.ui.form import make_form

    form = make_form([path.stem for path in list_drills()], request, device=device, athlete=athlete)
    app = CoachApp(form, go)
    run_app(app)
    if app.trouble is not None:
        raise app.trouble
    return app.paths, app.unkept


def run_counts(opened: OpenRoutine, *, is_new: bool, device: str | None = None) -> None:
    """Open the screen for setting counts.

    Parameters
    ----------
    opened : OpenRoutine
    is_new : bool
        Whether the routine has no file yet.
    device : str or None
        As in :func:`tempo_coach.ui.start.make_go`.

    Raises
    ------
    CoachError
        If there is no terminal to draw on, or the screen ended on its own.
    """
    check_terminal()
    from tempo_coach.music.loudness import find_levels
    from tempo_coach.ui.alone import AloneApp
    from tempo_coach.ui.counts import CountsScreen
    from tempo_coach.ui.start import open_player

    levels = find_levels(opened.heard.sound)
    run_app(AloneApp(CountsScreen(opened, levels, saved=not is_new, make_player=partial(open_player, device))))


def run_app(app: App[int]) -> None:
    """Run a program of screens until it is left.

    Raises
    ------
    CoachError
        If it ended on its own.
    """
    with screen_to_itself() as log:
        app.run(mouse=True)
    if app.return_code:
        raise CoachError("the screen ended on its own", hint=f"what went wrong stands in {log}")


def check_terminal() -> None:
    """Refuse where the screens would have nowhere to go.

    Raises
    ------
    CoachError
        If input or output is no terminal.
    """
    if not (sys.stdin.isatty() and sys.stderr.isatty()):
        raise CoachError(
            "the screens need a terminal",
            hint="without one, write the cues to a file: tempo-coach cue DRILL --out FILE",
        )


@contextlib.contextmanager
def screen_to_itself(log: Path | None = None) -> Iterator[Path]:
    """Send what is written to descriptor 2 to a log, and let Textual draw on a copy of it.

    Yields
    ------
    Path
        The log.
    """
    path = log or Path(tempfile.gettempdir()) / f"tempo_coach_{os.getpid()}.log"
    real = sys.__stderr__
    if real is None:
        yield path
        return
    real.flush()
    copy = os.dup(2)
    quiet = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_APPEND, 0o600)
    # a sign that the terminal's encoding lacks takes as many columns as a plain one
    screen = os.fdopen(copy, "w", encoding=real.encoding or "utf-8", errors=IN_COLUMNS, closefd=False)
    os.dup2(quiet, 2)
    os.close(quiet)
    sys.__stderr__ = screen  # type: ignore[misc]  # where Textual draws
    try:
        yield path
    finally:
        screen.flush()
        sys.__stderr__ = real  # type: ignore[misc]  # as it was
        os.dup2(copy, 2)
        os.close(copy)
        if path.exists() and not path.stat().st_size:
            path.unlink()
