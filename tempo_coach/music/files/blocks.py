"""Samples that come block by block: kept in memory or, where they are many, in a mapped temporary file."""

from __future__ import annotations

import contextlib
import errno
import os
import shutil
import tempfile
from typing import IO, TYPE_CHECKING, Self

import numpy as np

from tempo_coach.errors import CoachError

if TYPE_CHECKING:
    from collections.abc import Iterator

    from tempo_coach.music.files.sound import Samples

#: Sound above this size (bytes) is kept in a temporary file and mapped: about three minutes of stereo.
MAPPED_FROM = 64 << 20


class Blocks:
    """Collects blocks of samples, as a context manager; the array from :meth:`join` stays valid afterwards.

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
        size = expected * channels * 4
        self._store = _make_store(size) if size > MAPPED_FROM else None
        self._kept = np.empty((0 if self._store else int(expected), channels), np.float32)
        self._more: list[Samples] = []  # beyond what was expected

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        if self._store is not None:
            self._store.close()

    def add(self, block: Samples) -> None:
        """Append a block, shape (n, channels), float32."""
        start, self.count = self.count, self.count + len(block)
        if self._store is not None:
            with _saying_why():
                self._store.write(block.tobytes())
        elif self.count <= len(self._kept):
            self._kept[start : self.count] = block
        else:
            self._kept = self._kept[:start] if not self._more else self._kept
            self._more.append(block)

    def join(self) -> Samples:
        """Return all samples, shape (count, channels), read-only."""
        if self._store is not None and self.count:
            with _saying_why():
                self._store.flush()
            return np.memmap(self._store, dtype=np.float32, mode="r", shape=(self.count, self._channels))
        samples = np.concatenate([self._kept, *self._more]) if self._more else self._kept[: self.count]
        samples.flags.writeable = False
        return samples


def _make_store(size: float) -> IO[bytes]:
    """Return a temporary file with room for a number of bytes."""
    with _saying_why():
        store = tempfile.TemporaryFile(prefix="tempo-coach-")  # noqa: SIM115 - Blocks closes it
        try:
            if shutil.disk_usage(tempfile.gettempdir()).free < size:
                raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
        except BaseException:
            store.close()
            raise
        return store


@contextlib.contextmanager
def _saying_why() -> Iterator[None]:
    """Turn a failure to write samples to the temporary folder into one sentence."""
    try:
        yield
    except OSError as error:
        raise CoachError("sound.no_room", where=tempfile.tempdir or "TMPDIR", reason=error.strerror or error) from error
