"""Open Sound Control over UDP: each message of a sensor or pad is an onset, stamped when it arrives.

The last part of a message's address names the hand (``/pad/left``); with one hand any address will do. What a sender,
its cable and its network add of their own nobody here can know.
"""

from __future__ import annotations

import math
import socket
import threading
from typing import TYPE_CHECKING

from tempo_coach.live.inputs.arriving import ArrivingRows, Row

if TYPE_CHECKING:
    from collections.abc import Sequence

#: Bytes of the longest datagram that is read.
MOST_BYTES = 4096


class OscListener(ArrivingRows):
    """Listens for Open Sound Control. See :class:`tempo_coach.live.inputs.source.LiveSource`.

    Parameters
    ----------
    address : str
        The one address that is bound.
    port : int
        0 for any that is free.

    Raises
    ------
    OSError
        If it cannot be bound.
    """

    def __init__(self, address: str, port: int) -> None:
        super().__init__()
        self._socket = socket.socket(socket.AF_INET, socket.SOCK_DGRAM)
        try:
            self._socket.bind((address, port))
        except OSError:
            self._socket.close()
            raise
        self.port: int = self._socket.getsockname()[1]
        self._closing = threading.Event()
        self._thread = threading.Thread(target=self._listen, name="osc", daemon=True)
        self._thread.start()

    def _listen(self) -> None:
        """Stamp datagrams as they arrive; they are parsed elsewhere."""
        while True:
            try:
                raw = self._socket.recv(MOST_BYTES)
            except OSError:  # it was closed
                return
            if self._closing.is_set():
                return
            self.came(raw)

    def _read(self, raw: bytes) -> list[Row]:
        hands = [hand_of(address, self._hands) for address in read_addresses(raw)]
        return [Row(math.nan, hand) for hand in hands if hand]

    def close(self) -> None:
        """Close the port."""
        self._closing.set()
        with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as last:
            last.sendto(b"", self._socket.getsockname())  # a thread that waits is woken by an empty one
        self._thread.join(1.0)
        self._socket.close()


def read_addresses(raw: bytes) -> list[str]:
    """Return the addresses of the messages in a datagram; none if it is not Open Sound Control."""
    from pythonosc.osc_packet import OscPacket, ParseError

    try:
        return [str(each.message.address) for each in OscPacket(raw).messages]
    except (ParseError, ValueError, IndexError):
        return []


def hand_of(address: str, hands: Sequence[str]) -> str | None:
    """Return the hand of a message: the last part of its address, or the only hand.

    Examples
    --------
    >>> hand_of("/pad/Left", ("right", "left")), hand_of("/pad", ("right", "left")), hand_of("/pad", ("rope",))
    ('left', None, 'rope')
    """
    last = address.rpartition("/")[2].lower()
    known = {hand.lower(): hand for hand in hands}
    return known.get(last, hands[0] if len(hands) == 1 else None)
