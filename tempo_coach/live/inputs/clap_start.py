"""A practice that begins with a clap: the microphone is open while it waits, and let go as soon as it does not."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable

    from tempo_coach.live.inputs.clap_listener import ClapListener


class ClapStart:
    """Waits for a clap, where that was asked for.

    Parameters
    ----------
    open_listener : callable or None
        Opens the microphone; None where Enter alone begins.
    """

    def __init__(self, open_listener: Callable[[], ClapListener] | None) -> None:
        self._open = open_listener
        self._listener: ClapListener | None = None

    def look(self, *, waiting: bool) -> tuple[bool, str]:
        """Listen for a moment.

        Parameters
        ----------
        waiting : bool
            Whether the practice waits to be begun.

        Returns
        -------
        begin : bool
            Whether there was a clap.
        sentence : str
            What the person has to know now; empty for nothing new.
        """
        sentence = ""
        if waiting and self._listener is None and self._open is not None:
            self._listener = self._open()
            sentence = "Clap to begin, or press Enter."
        if self._listener is None:
            return False, ""
        clapped = waiting and self._listener.heard()
        trouble = self._listener.trouble
        if trouble:
            self._open = None
            sentence = f"No clap can be heard: {trouble}. Enter begins."
        if clapped or trouble or not waiting:
            self.close()
        return clapped, sentence

    def close(self) -> None:
        """Let the microphone go."""
        if self._listener is not None:
            self._listener.close()
            self._listener = None
