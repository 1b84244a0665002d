"""Ports of MIDI without hardware: ``MIDO_BACKEND=tests.generators.midi_backend`` gives mido one input, a steady beat.

Any driver of the system would be asked in its place; what comes goes through mido's own messages and callbacks.
"""

from __future__ import annotations

import threading
import time
from typing import TYPE_CHECKING

from mido import Message
from mido.ports import BaseInput

if TYPE_CHECKING:
    from collections.abc import Callable

#: What the pads send, one after the other, and every so many seconds.
NOTES, EVERY = (36, 38), 0.6


class Input(BaseInput):
    """A device whose pads are hit in turn."""

    def _open(self, callback: Callable[[Message], None] | None = None, **_: object) -> None:
        self.hit = callback or self._messages.append
        self._stop = threading.Event()
        threading.Thread(target=self._play, daemon=True).start()

    def _play(self) -> None:
        begun, k = time.monotonic(), 0
        while not self._stop.wait(max(begun + k * EVERY - time.monotonic(), 0)):
            self.hit(Message("note_on", note=NOTES[k % len(NOTES)], velocity=90))
            self.hit(Message("note_off", note=NOTES[k % len(NOTES)]))
            k += 1

    def _close(self) -> None:
        self._stop.set()


def get_devices(**_: object) -> list[dict[str, object]]:
    """Return the devices that there are."""
    return [{"name": "invented pads", "is_input": True, "is_output": False}]
