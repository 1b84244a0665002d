"""Open Sound Control over UDP: each message of a sensor or pad is an onset, stamped when it arrives.

The last part of a message's address names the hand (``/pad/left``); with one hand any address will do. What a sender,
its cable and its network add of their own nobody here can know.
"""

from __future__ import annotations

import math
import queue
import socket
import threading
from time import perf_counter
from typing import TYPE_CHECKING

from tempo_coach.live.inputs.source import Collected, SourceOnset

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from tempo_coach.live.inputs.source import SourceNews
    from tempo_coach.observe.observers import ObservedBy
    from tempo_coach.pattern.plan.plan import Plan

#: Bytes of the longest datagram that is read, and most onsets of a take: more come from no hand.
MOST_BYTES, MOST_ONSETS = 4096, 100_000
#: Seconds before a take's beginning whose onsets are kept.
_BEFORE = 2.0


class OscListener:
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

    observed_by: ObservedBy = "sender"
    note = ""

    def __init__(self, address: str, port: int) -> None:
        self._socket = socket.socket(socket.AF_INET, socket.SOCK_DGRAM)
        try:
            self._socket.bind((address, port))
        except OSError:
            self._socket.close()
            raise
        self.port: int = self._socket.getsockname()[1]
        self._came: queue.SimpleQueue[tuple[float, bytes]] = queue.SimpleQueue()
        self._closing = threading.Event()
        self._onsets: list[tuple[float, str]] = []
        self._hands: tuple[str, ...] = ()
        self._start, self._end = math.inf, math.inf
        self._thread = threading.Thread(target=self._listen, name="osc", daemon=True)
        self._thread.start()

    def _listen(self) -> None:
        """Stamp datagrams as they come; what is in them is looked at elsewhere."""
        while True:
            try:
                raw = self._socket.recv(MOST_BYTES)
            except OSError:  # it was closed
                return
            if self._closing.is_set():
                return
            self._came.put((perf_counter(), raw))

    def poll(self) -> list[SourceNews]:
        """Return the onsets that came."""
        news: list[SourceNews] = []
        while not self._came.empty():
            stamp, raw = self._came.get()
            for address in read_addresses(raw):
                hand = hand_of(address, self._hands)
                if hand and self._start <= stamp <= self._end and len(self._onsets) < MOST_ONSETS:
                    self._onsets.append((stamp, hand))
                    news.append(SourceOnset(hand, stamp))
        return news

    def show(self, values: Mapping[str, object]) -> None:
        """Show nothing."""

    def begin(self, plan: Plan, zero: float, beats: Sequence[Sequence[object]] = ()) -> None:
        """Open a take."""
        del beats
        self._onsets, self._hands, self._start, self._end = [], plan.hands, zero - _BEFORE, math.inf

    def end(self, stamp: float) -> None:
        """Close the take."""
        self._end = stamp

    def collected(self) -> Collected:
        """Return the onsets of the take."""
        return Collected(onsets=tuple(self._onsets))

    def close(self) -> None:
        """Let go of the port."""
        self._closing.set()
        with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as last:
            last.sendto(b"", self._socket.getsockname())  # a thread that waits is woken by an empty one
        self._thread.join(1.0)
        self._socket.close()


def read_addresses(raw: bytes) -> list[str]:
    """Return the addresses of the messages in a datagram; none where it is no Open Sound Control."""
    from pythonosc.osc_packet import OscPacket, ParseError

    try:
        return [str(each.message.address) for each in OscPacket(raw).messages]
    except (ParseError, ValueError, IndexError):
        return []


def hand_of(address: str, hands: Sequence[str]) -> str | None:
    """Return the hand that a message is of: the last part of its address, or the only one that there is.

    Examples
    --------
    >>> hand_of("/pad/Left", ("right", "left")), hand_of("/pad", ("right", "left")), hand_of("/pad", ("rope",))
    ('left', None, 'rope')
    """
    last = address.rpartition("/")[2].lower()
    known = {hand.lower(): hand for hand in hands}
    return known.get(last, hands[0] if len(hands) == 1 else None)
