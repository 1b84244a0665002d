"""Start of a practice on a clap: the microphone is open while it waits, and closed as soon as it does not."""

from __future__ import annotations

from typing import TYPE_CHECKING

from tempo_coach.live.notices import Code, Notice

if TYPE_CHECKING:
    from collections.abc import Callable

    from tempo_coach.live.inputs.clap_listener import ClapListener


class ClapStart:
    """Waits for a clap where the start was to be one.

    Parameters
    ----------
    open_listener : callable or None
        Opens the microphone; None where Enter alone begins.
    """

    def __init__(self, open_listener: Callable[[], ClapListener] | None) -> None:
        self._open = open_listener
        self._listener: ClapListener | None = None

    def look(self, *, waiting: bool) -> tuple[bool, Notice | None]:
        """Check once for a clap.

        Parameters
        ----------
        waiting : bool
            Whether the practice waits to be begun.

        Returns
        -------
        begin : bool
            Whether there was a clap.
        notice : Notice or None
            What the person has to know now; None for nothing new.
        """
        notice = None
        if waiting and self._listener is None and self._open is not None:
            self._listener = self._open()
            notice = Notice(Code.CLAP_AWAITED)
        if self._listener is None:
            return False, None
        clapped = waiting and self._listener.heard()
        trouble = self._listener.trouble
        if trouble is not None:
            self._open, notice = None, trouble
        if clapped or trouble is not None or not waiting:
            self.close()
        return clapped, notice

    def close(self) -> None:
        """Close the microphone."""
        if self._listener is not None:
            self._listener.close()
            self._listener = None
