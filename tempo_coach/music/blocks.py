"""Samples that come block by block: kept in memory or, where they are many, in a mapped temporary file."""

from __future__ import annotations

import tempfile
from typing import TYPE_CHECKING, Self

import numpy as np

if TYPE_CHECKING:
    from tempo_coach.music.sound import Samples

#: Sound above this size (bytes) is kept in a temporary file and mapped: about 25 minutes of stereo.
MAPPED_FROM = 512 << 20


class Blocks:
    """Gathers blocks of samples, as a context: what :meth:`join` has returned stays good behind it.

    Parameters
    ----------
    channels : int
    expected : float
        How many frames there will be, as far as anybody knows: it decides where they are kept.

    Attributes
    ----------
    count : int
        Frames so far.
    """

    def __init__(self, channels: int, *, expected: float) -> None:
        self.count = 0
        self._channels = channels
        self._blocks: list[Samples] = []
        large = expected * channels * 4 > MAPPED_FROM
        self._store = tempfile.TemporaryFile(prefix="tempo-coach-") if large else None  # noqa: SIM115 - __exit__ does

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        if self._store is not None:
            self._store.close()

    def add(self, block: Samples) -> None:
        """Take a block, shape (n, channels), float32."""
        self.count += len(block)
        if self._store is None:
            self._blocks.append(block)
        else:
            self._store.write(block.tobytes())

    def join(self) -> Samples:
        """Return all samples, shape (count, channels), read-only."""
        if self._store is not None and self.count:
            self._store.flush()
            return np.memmap(self._store, dtype=np.float32, mode="r", shape=(self.count, self._channels))
        samples = np.concatenate([np.zeros((0, self._channels), np.float32), *self._blocks])
        samples.flags.writeable = False
        return samples
