"""Lab Streaming Layer: samples of one stream, which the library has converted to this machine's clock.

Strings are onsets of the hand that they name, and whole numbers of a stream with one channel those of the first hand,
the second and so on; six numbers for each hand are a reading (acceleration in m/s², rotation in rad/s).
"""

from __future__ import annotations

import math
import threading
from time import perf_counter
from typing import TYPE_CHECKING

from tempo_coach.live.inputs.arriving import ArrivingRows, Row
from tempo_coach.live.inputs.lines import VALUES

if TYPE_CHECKING:
    from collections.abc import Sequence

    from pylsl import StreamInfo

    from tempo_coach.observe.observers import ObservedBy

#: Seconds that a thread waits for a sample before it looks whether it is still wanted.
_WAIT = 0.2
#: Readings of both clocks of which the quickest is taken.
_READINGS = 9


class LabReader(ArrivingRows):
    """Reads a stream. See :class:`tempo_coach.live.inputs.source.LiveSource`.

    Parameters
    ----------
    info : pylsl.StreamInfo
        As it was found in the network.
    """

    observed_by: ObservedBy = "lsl"

    def __init__(self, info: StreamInfo) -> None:
        import pylsl

        super().__init__()
        self._inlet = pylsl.StreamInlet(info, processing_flags=pylsl.proc_clocksync)
        self._closing = threading.Event()
        pairs = [(perf_counter(), pylsl.local_clock(), perf_counter()) for _ in range(_READINGS)]
        before, theirs, after = min(pairs, key=lambda each: each[2] - each[0])
        self._ahead = (before + after) / 2 - theirs
        self._thread = threading.Thread(target=self._listen, name="lsl", daemon=True)
        self._thread.start()

    def _listen(self) -> None:
        while not self._closing.is_set():
            sample, stamp = self._inlet.pull_sample(timeout=_WAIT)
            if sample is not None:
                self.came(sample, stamp + self._ahead)

    def _read(self, raw: Sequence[object]) -> list[Row]:
        return read_sample(raw, self._hands)

    def close(self) -> None:
        """Close the stream."""
        self._closing.set()
        self._thread.join(1.0)
        self._inlet.close_stream()


def read_sample(sample: Sequence[object], hands: Sequence[str]) -> list[Row]:
    """Return the content of a sample; nothing for a foreign one.

    Examples
    --------
    >>> [row.hand for row in read_sample(["Left"], ("right", "left")) + read_sample([1], ("right", "left"))]
    ['left', 'right']
    >>> [len(row.values) for row in read_sample([0.0] * 12, ("right", "left"))], read_sample([0.0] * 3, ("rope",))
    ([6, 6], [])
    """
    if len(sample) == 1:
        hand = _hand_of(sample[0], hands)
        return [] if hand is None else [Row(math.nan, hand)]
    values = [float(each) for each in sample if isinstance(each, int | float)]
    if len(values) != len(sample) or len(values) % VALUES or not all(map(math.isfinite, values)):
        return []
    parts = [tuple(values[k : k + VALUES]) for k in range(0, len(values), VALUES)]
    return [Row(math.nan, hand, part) for hand, part in zip(hands, parts, strict=False)]


def _hand_of(value: object, hands: Sequence[str]) -> str | None:
    if isinstance(value, str):
        known = {hand.lower(): hand for hand in hands}
        return known.get(value.strip().lower(), hands[0] if len(hands) == 1 else None)
    number = value if isinstance(value, int) or (isinstance(value, float) and value.is_integer()) else 0
    return hands[int(number) - 1] if 1 <= number <= len(hands) else None
