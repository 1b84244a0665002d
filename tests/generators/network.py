"""A network between two programs of this machine: a forwarder of connections with delay, jitter, loss and outages.

What TCP makes of it is what an application sees: pieces in order, each at its delay after it was sent or behind the one
before; a lost one comes with the retransmission, some tenths of a second later; in an outage nothing comes.
"""

from __future__ import annotations

import asyncio
from contextlib import suppress
from dataclasses import dataclass
from time import perf_counter
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Callable

#: Seconds until TCP sends again what was lost (RFC 6298's least is 1 s; systems take 0.2, common practice).
RETRANSMISSION = 0.2


@dataclass(frozen=True)
class Way:
    """One direction: mean and SD of the delay, an exponential tail, seconds; and the share that is lost."""

    delay: float = 0.0
    jitter: float = 0.0
    tail: float = 0.0
    loss: float = 0.0
    least: float = 0.0005

    def draw(self, rng: np.random.Generator) -> float:
        """Return the delay of one piece."""
        delay = max(self.least, rng.normal(self.delay, self.jitter)) + (rng.exponential(self.tail) if self.tail else 0)
        while self.loss and rng.random() < self.loss:
            delay += RETRANSMISSION
        return float(delay)


class Forwarder:
    """Joins a port of one side with a port of the other.

    Parameters
    ----------
    target : (str, int)
    up, down : Way
        To the target and back.
    outages : sequence of (start, end)
        Seconds since the start in which nothing gets through.
    cuts : bool
        Whether connections break at the start of an outage; else they wait.
    connect : callable or None
        Opens a connection to the target in another way.
    """

    def __init__(
        self,
        target: tuple[str, int],
        *,
        up: Way | None = None,
        down: Way | None = None,
        seed: int = 0,
        outages: tuple[tuple[float, float], ...] = (),
        cuts: bool = False,
        connect: Callable[[], object] | None = None,
    ) -> None:
        self._target = target
        self._ways = (up or Way(), down or Way())
        self._rng = np.random.default_rng(seed)
        self._outages = outages
        self._cuts = cuts
        self._connect = connect
        self._began = perf_counter()
        self._writers: set[asyncio.StreamWriter] = set()
        self._tasks: set[asyncio.Task[None]] = set()
        self.port = 0

    async def start(self, host: str = "127.0.0.1", port: int = 0, *, sock: object = None) -> None:
        """Listen."""
        self._began = perf_counter()
        where = {"sock": sock} if sock is not None else {"host": host, "port": port}
        self._server = await asyncio.start_server(self._join, **where)  # type: ignore[arg-type]
        self.port = self._server.sockets[0].getsockname()[1]
        if self._cuts:
            for start, _ in self._outages:
                asyncio.get_running_loop().call_later(start, self._cut)

    async def stop(self) -> None:
        """Close everything."""
        self._server.close()
        self._cut()
        for task in list(self._tasks):
            task.cancel()
        await asyncio.gather(*self._tasks, return_exceptions=True)

    def _cut(self) -> None:
        for writer in list(self._writers):
            writer.transport.abort()

    def _out(self, now: float) -> float:
        """The end of the outage that a time is in; the time itself where it is in none."""
        since = now - self._began
        return next((self._began + end for start, end in self._outages if start <= since < end), now)

    async def _join(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        now = perf_counter()
        if self._cuts and self._out(now) > now:
            writer.transport.abort()
            return
        try:
            if self._connect is not None:
                far_reader, far_writer = await asyncio.open_connection(sock=self._connect())
            else:
                far_reader, far_writer = await asyncio.open_connection(*self._target)
        except OSError:
            writer.transport.abort()
            return
        self._writers |= {writer, far_writer}
        for source, sink, way in ((reader, far_writer, self._ways[0]), (far_reader, writer, self._ways[1])):
            task = asyncio.get_running_loop().create_task(self._pass_on(source, sink, way))
            self._tasks.add(task)
            task.add_done_callback(self._tasks.discard)

    async def _pass_on(self, source: asyncio.StreamReader, sink: asyncio.StreamWriter, way: Way) -> None:
        pieces: asyncio.Queue[tuple[float, bytes]] = asyncio.Queue()

        async def deliver() -> None:
            while True:
                at, piece = await pieces.get()
                # an outage that begins meanwhile holds it up too
                while (wait := self._out(max(at, perf_counter())) - perf_counter()) > 0:  # noqa: ASYNC110  for a time
                    await asyncio.sleep(wait)
                if not piece:
                    break
                sink.write(piece)
            sink.close()

        delivering = asyncio.get_running_loop().create_task(deliver())
        last = 0.0
        with suppress(OSError):
            while piece := await source.read(65536):
                last = max(last, perf_counter() + way.draw(self._rng))
                pieces.put_nowait((last, piece))
        pieces.put_nowait((last, b""))
        with suppress(OSError, asyncio.CancelledError):
            await delivering
        self._writers.discard(sink)
