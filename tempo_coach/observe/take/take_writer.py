"""Writer of a take's file while the take runs: append-only, so that a killed program loses no onset.

Each line is handed to the system as soon as it comes, and a thread sees that it reaches the disk.
See :mod:`tempo_coach.observe.take.take_file` for what the lines hold.
"""

from __future__ import annotations

import contextlib
import errno
import json
import math
import os
import threading
from pathlib import Path
from typing import TYPE_CHECKING

from tempo_coach.errors import CoachError
from tempo_coach.pattern.plan.plan_file import plan_to_dict
from tempo_coach.resources import written_whole

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from tempo_coach.observe.observers import ObservedBy
    from tempo_coach.pattern.plan.plan import Plan

#: Raised whenever a reader of the version before could not understand the file any more.
TAKE_VERSION = 1
#: Seconds between two rounds of the thread that brings lines to the disk; an onset waits for one at the most.
TO_DISK_EVERY = 0.08


class TakeWriter:
    """Writes a take while it runs; if writing fails it reports that, and the take goes on in memory.

    Parameters
    ----------
    path : Path
        Its folder is made. An existing file is never touched.
    plan : Plan
    observed_by : str
    begun : str
        Date and time, ISO 8601.
    player : str
        What it is played through.
    extra : mapping
        Anything else that is worth keeping, as plain values.

    Attributes
    ----------
    begun : str
    failure : OSError or None
        Why it cannot be written; None while all is well.
    """

    def __init__(
        self,
        path: str | Path,
        plan: Plan,
        *,
        observed_by: ObservedBy,
        begun: str,
        player: str = "",
        extra: Mapping[str, object] | None = None,
    ) -> None:
        self.path = Path(path)
        self.begun = begun
        self.failure: OSError | None = None
        self._file: int | None = None
        self._own = False
        self._lines: list[bytes] = []
        self._waiting = b""
        self._at_risk = False
        self._new = threading.Event()
        self._over = threading.Event()
        self._thread: threading.Thread | None = None
        head = {"take": TAKE_VERSION, "begun": begun, "observed_by": observed_by, "player": player, **(extra or {})}
        try:
            self.path.parent.mkdir(parents=True, exist_ok=True)
            self._file = os.open(self.path, os.O_WRONLY | os.O_CREAT | os.O_EXCL | os.O_APPEND, 0o600)
        except OSError as error:
            self.failure = error
        else:
            self._own = True
            lock(self._file)
            self._thread = threading.Thread(target=self._bring_to_disk, name="take to disk", daemon=True)
            self._thread.start()
        self._line({**head, "plan": plan_to_dict(plan)})

    @property
    def whole(self) -> bool:
        """Whether the file is complete so far."""
        return self._own and not self._waiting and not self._at_risk

    def onset(self, hand: str, *, stamp: float, time: float = math.nan) -> None:
        """Record an onset: its time stamp, and its take time as far as that is known."""
        self._line({"hand": hand, "stamp": stamp, "time": None if math.isnan(time) else time})

    def gap(self, start: float, end: float) -> None:
        """Record a stretch of the take clock in which nothing can be measured."""
        self._line({"gap": [start, end]})

    def finish(
        self,
        rows: Sequence[tuple[float, str]],
        *,
        how: str,
        stopped: float | None = None,
        noise_floor_ms: float | None = None,
        unmeasurable: Iterable[tuple[float, float]] = (),
        calibrated: bool = False,
    ) -> None:
        """Write the onsets as finally placed by the clocks, and close the file.

        Parameters
        ----------
        rows : sequence of (time, hand)
            NaN where an onset has no place on the take clock.
        how : str
            How it ended, for example ``"passage"`` or ``"enter"``.
        stopped, noise_floor_ms, unmeasurable, calibrated
            As in :func:`make_take`.
        """
        self._bytes(
            end_line(
                rows,
                how=how,
                stopped=stopped,
                noise_floor_ms=noise_floor_ms,
                unmeasurable=unmeasurable,
                calibrated=calibrated,
            )
        )
        self.close()

    def discard(self) -> None:
        """Remove the file of a take in which nothing was ever heard."""
        self.close()
        if self._own:
            self.path.unlink(missing_ok=True)
            self._own = False

    def write_again(self, path: Path | None = None) -> None:
        """Write the whole take once more, here or elsewhere, and then remove what was written here.

        Parameters
        ----------
        path : Path or None
            By default its own place, if it was ever its own.

        Raises
        ------
        CoachError
            If it cannot be written there, or a file is there already.
        """
        self.close()
        path = path or self.path
        own = self._own and path == self.path
        if path.exists() and not own:
            raise CoachError("take.exists", where=str(path))
        new = os.O_WRONLY | os.O_CREAT | os.O_EXCL
        with written_whole(path, what="take") as beside, os.fdopen(os.open(beside, new, 0o600), "wb") as out:
            out.write(b"".join(self._lines))
            out.flush()
            os.fsync(out.fileno())
        if self._own and not own:
            with contextlib.suppress(OSError):  # what is left there is a part of it
                self.path.unlink(missing_ok=True)
        self.path, self.failure, self._own, self._waiting, self._at_risk = path, None, True, b"", False

    def close(self) -> None:
        """Flush everything to the disk and close the file."""
        self._over.set()
        self._new.set()
        if self._thread is not None:
            self._thread.join()
            self._thread = None
        if self._file is not None:
            try:
                os.close(self._file)
            except OSError as error:  # a disk of the network may say it so late
                self._lose(error)
            self._file = None

    def _line(self, values: Mapping[str, object]) -> None:
        self._bytes(_encode(values))

    def _bytes(self, line: bytes) -> None:
        self._lines.append(line)
        self._waiting += line
        if self._file is None:
            return
        try:
            while self._waiting:
                written = os.write(self._file, self._waiting)
                self._waiting = self._waiting[written:]
        except OSError as error:
            # what waits is tried again with the next line: a disk may have room again
            self.failure = error
        else:
            if not self._at_risk:
                self.failure = None
        self._new.set()

    def _bring_to_disk(self) -> None:
        while not self._over.is_set():
            self._new.wait()
            self._new.clear()
            self._sync()
            self._over.wait(TO_DISK_EVERY)
        self._sync()

    def _sync(self) -> None:
        if self._file is None:
            return
        try:
            os.fsync(self._file)
        except OSError as error:
            if error.errno not in (errno.EINVAL, errno.ENOTSUP, errno.ENOSYS):  # a device that has nothing to bring
                self._lose(error)

    def _lose(self, error: OSError) -> None:
        """Note that lines already handed over may never have reached the disk."""
        self._at_risk = True
        self.failure = error


def end_line(
    rows: Sequence[tuple[float, str]],
    *,
    how: str,
    stopped: float | None = None,
    noise_floor_ms: float | None = None,
    unmeasurable: Iterable[tuple[float, float]] = (),
    calibrated: bool = False,
) -> bytes:
    """Return the line that ends a take's file. See :meth:`TakeWriter.finish`."""
    return _encode(
        {
            "end": how,
            "stopped": stopped,
            "time": [None if math.isnan(time) else time for time, _ in rows],
            "hand": [hand for _, hand in rows],
            "noise_floor_ms": noise_floor_ms,
            "unmeasurable": [[start, end] for start, end in unmeasurable],
            **({"calibrated": True} if calibrated else {}),
        }
    )


def _encode(values: Mapping[str, object]) -> bytes:
    return json.dumps(values, ensure_ascii=False, allow_nan=False).encode() + b"\n"


def lock(file: int) -> bool:
    """Lock the file of a running take, and return whether that worked; the system unlocks it when the program ends."""
    try:
        import fcntl
    except ImportError:
        return True  # without such locks a running take cannot be told from one that was broken off
    try:
        fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError:
        return False
    return True
