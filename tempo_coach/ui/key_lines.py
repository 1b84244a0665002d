"""Single keys from a terminal without a screen: each with the reading of the clock at which it was there."""

from __future__ import annotations

import contextlib
import os
import select
import sys
from time import perf_counter, sleep
from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

#: Seconds between two looks where the system cannot be waited for.
LOOK_EVERY = 0.002
_NAMES = {"\r": "enter", "\n": "enter", "\x11": "ctrl+q", "\x03": "ctrl+c", "\x7f": "backspace", " ": "space"}


class Stamped(NamedTuple):
    """A key as the screens call it, and its stamp."""

    key: str
    stamp: float


def name_keys(text: str, stamp: float) -> list[Stamped]:
    r"""Return the keys that were read at once; keys that send more than one sign (arrows) are left out.

    Examples
    --------
    >>> [key for key, _ in name_keys("j\r", 0.0)]
    ['j', 'enter']
    >>> name_keys("\x1b[A", 0.0)
    []
    """
    if text.startswith("\x1b"):
        return []
    return [Stamped(_NAMES.get(sign, sign), stamp) for sign in text if sign in _NAMES or sign.isprintable()]


@contextlib.contextmanager
def open_keys() -> Iterator[Callable[[float], list[Stamped]]]:
    """Let keys come as they are pressed, without Enter and without being printed, until the block ends.

    Yields
    ------
    callable
        Waits so many seconds at most and returns what was pressed.
    """
    if sys.platform == "win32":
        yield _wait_on_windows
        return
    import termios

    file = sys.stdin.fileno()
    before = termios.tcgetattr(file)
    changed = termios.tcgetattr(file)
    changed[0] &= ~(termios.IXON | termios.ICRNL)  # Ctrl+Q would wake up the terminal instead of coming here
    changed[3] &= ~(termios.ICANON | termios.ECHO | termios.ISIG)
    termios.tcsetattr(file, termios.TCSADRAIN, changed)

    def wait(seconds: float) -> list[Stamped]:
        if not select.select([file], [], [], seconds)[0]:
            return []
        stamp = perf_counter()
        read = os.read(file, 64)
        return name_keys(read.decode("utf-8", "ignore"), stamp) if read else [Stamped("ctrl+q", stamp)]

    try:
        yield wait
    finally:
        with contextlib.suppress(termios.error):  # the terminal was closed
            termios.tcsetattr(file, termios.TCSADRAIN, before)


def _wait_on_windows(seconds: float) -> list[Stamped]:
    import msvcrt

    end = perf_counter() + seconds
    while perf_counter() < end:
        if msvcrt.kbhit():  # type: ignore[attr-defined, unused-ignore]  # there on Windows alone
            return name_keys(msvcrt.getwch(), perf_counter())  # type: ignore[attr-defined, unused-ignore]
        sleep(LOOK_EVERY)
    return []
