"""The terminal that the screens draw on: whether there is one, reserved for them, and restored afterwards.

The screen needs descriptor 2 for itself: C libraries write their complaints to it, and Textual draws there. While the
screens are up, Textual draws on a copy of it, and whatever else is written to it goes to a log.
"""

from __future__ import annotations

import asyncio
import contextlib
import io
import os
import signal
import sys
import tempfile
import threading
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from tempo_coach.coach.looking_back import SOMEBODY
from tempo_coach.errors import CoachError
from tempo_coach.observe.take.take_writer import lock
from tempo_coach.signs import IN_COLUMNS

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence

    from textual.app import App

    from tempo_coach.coach import OpenRoutine, Request
    from tempo_coach.coach.practising.group_takes import GroupTake
    from tempo_coach.coach.practising.practice import PracticeContext
    from tempo_coach.live.phones.link import Phones


#: How the folder of a log begins, and what the log in it is called.
_LOGS, _LOG = "tempo_coach_", "screen.log"
_NO_LINK = getattr(os, "O_NOFOLLOW", 0)
#: What is added to a signal's number in the exit code of what it ended (POSIX.1-2017, XCU 2.8.2: over 128).
SIGNALLED = 128


def run_screens(
    context: PracticeContext | None = None,
    *,
    request: Request | None = None,
    device: str | None = None,
    athlete: str = SOMEBODY,
) -> tuple[tuple[Path | None, ...], tuple[Path, ...]]:
    """Open the screens; return the files of the first practice's takes, and those missing in the history.

    Parameters
    ----------
    context : PracticeContext or None
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
    from tempo_coach.coach.choices import recall
    from tempo_coach.coach.drills import list_names_of_drills
    from tempo_coach.coach.looking_back import find_history
    from tempo_coach.coach.practising.form import make_form
    from tempo_coach.ui.app import CoachApp

    form = make_form(list_names_of_drills(), request, device=device, athlete=athlete)
    if context is not None:
        form = form.with_way(context.way, context.observed_by)
    elif request is None:
        form = form.with_chosen(recall(find_history(), athlete).lines)
    app = CoachApp(form, context)
    run_app(app)
    if app.trouble is not None:
        raise app.trouble
    return app.paths, app.unkept


def let_phones_in(phones: Phones, *, hands: Sequence[str], names: Sequence[str]) -> None:
    """Show the code until everybody's phone is let in; the server goes on.

    Raises
    ------
    CoachError
        If there is no terminal to draw on, or the screen ended on its own.
    """
    check_terminal()
    from tempo_coach.ui.app import AloneApp
    from tempo_coach.ui.practice.joining import JoiningScreen

    run_app(AloneApp(JoiningScreen(phones, hands=hands, names=names, alone=True)))


def run_live_group(context: PracticeContext, members: Sequence[str], *, phones: Phones | None) -> list[GroupTake]:
    """Practise with a group that is observed while it moves, and return its takes.

    Raises
    ------
    CoachError
        If the practice cannot go on, or the screens ended on their own.
    """
    from tempo_coach.ui.app import AloneApp
    from tempo_coach.ui.practice.live_group import LiveGroupScreen

    screen = LiveGroupScreen(context, members, phones=phones)
    run_app(AloneApp(screen))
    if screen.trouble is not None:
        raise screen.trouble
    return [] if screen.conductor is None else screen.conductor.takes


def run_today(
    file: Path, name: str, *, minutes: int | None = None, anew: bool = False, group: Sequence[str] = ()
) -> None:
    """Open today's list, with the set-up below it.

    Parameters
    ----------
    file : Path
        The history.
    name : str
        Whose list.
    minutes, anew
        As in :func:`tempo_coach.coach.todays_practice.open_today`.
    group : sequence of str
        Those whose lists are shown together first.

    Raises
    ------
    CoachError
        If there is no terminal to draw on, something cannot be read, or the screens ended on their own.
    """
    check_terminal()
    from datetime import date

    from tempo_coach.coach.athletes import list_names
    from tempo_coach.coach.choices import recall
    from tempo_coach.coach.drills import list_names_of_drills
    from tempo_coach.coach.practising.form import make_form
    from tempo_coach.coach.todays_practice import open_today
    from tempo_coach.ui.app import CoachApp
    from tempo_coach.ui.practice.today_screen import TodayScreen

    today = open_today(file, name, day=date.today(), minutes=minutes, anew=anew)
    form = make_form(list_names_of_drills(), athlete=name).with_chosen(recall(file, name).lines)
    run_app(
        CoachApp(
            form, today=TodayScreen(today, list_names(file), group=tuple(group), minutes=minutes if group else None)
        )
    )


def run_counts(opened: OpenRoutine, *, is_new: bool, device: str | None = None) -> None:
    """Open the screen for setting counts.

    Parameters
    ----------
    is_new : bool
        Whether the routine has no file yet.
    device : str or None
        As in :func:`tempo_coach.coach.practising.start.prepare_practice`.

    Raises
    ------
    CoachError
        If there is no terminal to draw on, or the screen ended on its own.
    """
    check_terminal()
    from tempo_coach.coach.practising.start import open_player
    from tempo_coach.music.files.loudness import find_levels
    from tempo_coach.ui.app import AloneApp
    from tempo_coach.ui.counts.screen import CountsScreen

    levels = find_levels(opened.heard.sound)
    run_app(AloneApp(CountsScreen(opened, levels, saved=not is_new, make_player=partial(open_player, device))))


def run_app(app: App[int]) -> None:
    """Run a program of screens until it is left.

    Raises
    ------
    CoachError
        If it ended on its own.
    SystemExit
        If the system asked for its end: it was left in order.
    """
    with screen_to_itself() as log, leaving_when_told(partial(_leave, app)):
        app.run(mouse=True)
    if app.return_code:
        raise CoachError("screen.ended", log=log)


def _leave(app: App[int], number: int) -> None:
    """Leave a program of screens from a signal handler, inside its loop or outside."""
    try:
        loop = asyncio.get_running_loop()
    except RuntimeError:
        raise SystemExit(SIGNALLED + number) from None
    loop.call_soon_threadsafe(app.exit)


@contextlib.contextmanager
def leaving_when_told(leave: Callable[[int], object]) -> Iterator[None]:
    """Leave in order when the system ends the program: at a shutdown, or when the terminal is closed.

    Behind the block the program ends as if it had been ended by that signal. Who asks twice means it.

    Parameters
    ----------
    leave : callable
        Ends what runs in the block, told the number of the signal; it is called in the midst of it.

    Raises
    ------
    SystemExit
        Where that was asked for.
    """
    told: list[int] = []

    def hear(number: int, _frame: object) -> None:
        told.append(number)
        signal.signal(number, signal.SIG_DFL)
        leave(number)

    before = {}
    if threading.current_thread() is threading.main_thread():
        numbers = [getattr(signal, name) for name in ("SIGTERM", "SIGHUP") if hasattr(signal, name)]
        # what is ignored stays so: that is how a program is kept going when its terminal is closed
        before = {each: signal.signal(each, hear) for each in numbers if signal.getsignal(each) is not signal.SIG_IGN}
    try:
        yield
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)
    if told:
        raise SystemExit(SIGNALLED + told[0])


def check_terminal(*, lines_as_input: bool = False) -> None:
    """Refuse to start where the screens would have no terminal.

    Parameters
    ----------
    lines_as_input : bool
        Whether the input is what observes: keys then come from the terminal that is looked for when that is opened.

    Raises
    ------
    CoachError
        If input or output is no terminal.
    """
    if not ((lines_as_input or sys.stdin.isatty()) and sys.stderr.isatty()):
        raise CoachError("screen.no_terminal")


class _Drawn(io.TextIOWrapper):
    """The terminal that screens are drawn on; writing to a closed one is harmless."""

    def write(self, text: str, /) -> int:
        """Draw."""
        with contextlib.suppress(OSError):
            return super().write(text)
        return len(text)

    def flush(self) -> None:
        """Let what was drawn be seen."""
        with contextlib.suppress(OSError):
            super().flush()


@contextlib.contextmanager
def screen_to_itself(log: Path | None = None) -> Iterator[Path]:
    """Redirect file descriptor 2 to a log, and let Textual draw on a copy of it.

    Parameters
    ----------
    log : Path or None
        A file that is not there yet; by default one in a new folder of its own.

    Yields
    ------
    Path
        The log; nowhere, where none can be made.
    """
    real = sys.__stderr__
    if real is None:
        yield Path(os.devnull)
        return
    real.flush()
    copy = os.dup(2)
    path, quiet = _open_log(log)
    # a sign that the terminal's encoding lacks takes as many columns as a plain one
    raw = io.BufferedWriter(io.FileIO(copy, "w", closefd=False))
    screen = _Drawn(raw, encoding=real.encoding or "utf-8", errors=IN_COLUMNS, line_buffering=True)
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
        if path.is_file() and not path.stat().st_size:
            path.unlink()
            if log is None:
                path.parent.rmdir()


def _open_log(log: Path | None) -> tuple[Path, int]:
    """Open a new log, never following or overwriting what is in the shared temporary folder."""
    try:
        if log is None:
            _clear_logs()
        path = log or Path(tempfile.mkdtemp(prefix=_LOGS)) / _LOG
        file = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL | os.O_APPEND | _NO_LINK, 0o600)
    except OSError:
        return Path(os.devnull), os.open(os.devnull, os.O_WRONLY)
    lock(file)
    return path, file


def _clear_logs() -> None:
    """Remove empty logs of programs that were killed."""
    for path in Path(tempfile.gettempdir()).glob(f"{_LOGS}*/{_LOG}"):
        with contextlib.suppress(OSError):
            file = os.open(path, os.O_RDONLY | _NO_LINK)
            try:
                if not os.fstat(file).st_size and lock(file):
                    path.unlink()
                    path.parent.rmdir()
            finally:
                os.close(file)
