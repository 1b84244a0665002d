"""MIDI: each note of a pad and each press of a pedal is an onset, stamped when it arrives.

A device says which of its pads was hit by a number, and nothing tells which hand's that is: the first pad or pedal
that is hit is the first hand's, the second the second's, and so on; with one hand all of them are its own.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, NamedTuple

from tempo_coach.languages import tr
from tempo_coach.live.inputs.arriving import ArrivingRows, Row
from tempo_coach.live.notices import Code, Notice

if TYPE_CHECKING:
    from mido import Message

    from tempo_coach.live.inputs.source import SourceNews
    from tempo_coach.observe.observers import ObservedBy

#: Controllers of pedals, and the value from which one is down (MIDI 1.0: 64 damper to 69 hold; 64 and more is on).
PEDALS, DOWN = range(64, 70), 64


class Pad(NamedTuple):
    """A pad, key or pedal: whether it is a pedal, and its note or controller."""

    pedal: bool
    number: int


class MidiListener(ArrivingRows):
    """Listens to a MIDI port. See :class:`tempo_coach.live.inputs.source.LiveSource`.

    Parameters
    ----------
    port : str
        Its whole name.
    hands : tuple of str
        Those of the drill.

    Raises
    ------
    OSError
        If it cannot be opened.
    """

    observed_by: ObservedBy = "midi"

    def __init__(self, port: str, hands: tuple[str, ...]) -> None:
        import mido

        super().__init__()
        self._known: dict[Pad, str] = {}
        self._all = hands
        self._down: set[Pad] = set()
        self._strange = self._said_strange = False
        self._port = mido.open_input(port, callback=self.came)

    @property
    def note(self) -> str:
        """Assignment of pads to hands."""
        return ", ".join(
            tr("{hand} pedal {number}" if pad.pedal else "{hand} {number}", hand=tr(hand), number=pad.number)
            for pad, hand in self._known.items()
        )

    def _read(self, raw: Message) -> list[Row]:
        pad = self._press_of(raw)
        hand = None if pad is None else self._hand_of(pad)
        return [] if hand is None else [Row(math.nan, hand)]

    def _press_of(self, message: Message) -> Pad | None:
        """Return which pad was pressed; a pedal repeats its position."""
        if message.type == "note_on" and message.velocity > 0:
            return Pad(False, message.note)
        if message.type != "control_change" or message.control not in PEDALS:
            return None
        pad = Pad(True, message.control)
        if message.value < DOWN:
            self._down.discard(pad)
            return None
        if pad in self._down:
            return None
        self._down.add(pad)
        return pad

    def _hand_of(self, pad: Pad) -> str | None:
        if len(self._all) == 1:
            return self._all[0]
        if pad not in self._known and len(self._known) < len(self._all):
            self._known[pad] = self._all[len(self._known)]
        self._strange = self._strange or pad not in self._known
        return self._known.get(pad)

    def _notices(self) -> list[SourceNews]:
        if not self._strange or self._said_strange:
            return []
        self._said_strange = True
        return [Notice(Code.PAD_STRANGE, (self.note,))]

    def close(self) -> None:
        """Close the port."""
        self._port.close()
