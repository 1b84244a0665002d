"""Connections to the server: counted before they shake hands, and closed where they say nothing."""

from __future__ import annotations

import asyncio
from collections import Counter
from functools import partial
from time import perf_counter
from typing import TYPE_CHECKING

from aiohttp import web

if TYPE_CHECKING:
    import socket
    import ssl
    from collections.abc import Callable

#: Seconds that a connection may take to say whole what it wants, and to shake hands.
PATIENCE = 5.0
#: Connections of all phones together, and of one address.
MOST, MOST_OF_ONE = 80, 24


class Connections:
    """How many connections there are of each address."""

    def __init__(self) -> None:
        self._of = Counter[str]()

    def admit(self, address: str) -> bool:
        """Return whether another one from an address is admitted; it then counts until :meth:`release`."""
        if self._of[address] >= MOST_OF_ONE or self._of.total() >= MOST:
            return False
        self._of[address] += 1
        return True

    def release(self, address: str) -> None:
        """Count one of an address less."""
        self._of -= Counter([address])


class Guarded(web.RequestHandler):
    """One connection, closed where there are too many, or where its request does not arrive in time."""

    spoke = False
    came: float | None = None
    release: Callable[[], None] | None = None

    def connection_made(self, transport: asyncio.BaseTransport) -> None:
        """Start the time limit of its request."""
        super().connection_made(transport)
        asyncio.get_running_loop().call_later(PATIENCE, self._look, transport)

    def data_received(self, data: bytes) -> None:
        """Note when the newest piece came, before anything is made of it."""
        self.came = perf_counter()
        super().data_received(data)

    def _look(self, transport: asyncio.BaseTransport) -> None:
        if not self.spoke:
            transport.abort()  # type: ignore[attr-defined]

    def connection_lost(self, exc: BaseException | None) -> None:
        """Free its place."""
        if self.release is not None:
            self.release()
            self.release = None
        super().connection_lost(exc)


def when_came(request: web.Request) -> float:
    """Return when the end of what a connection sent came."""
    guard = request.protocol
    return guard.came if isinstance(guard, Guarded) and guard.came is not None else perf_counter()


async def accept(listening: socket.socket, runner: web.AppRunner, context: ssl.SSLContext) -> None:
    """Accept connections, counted before the handshake, which takes a quarter of a megabyte."""
    loop, shaking, open_ = asyncio.get_running_loop(), set[asyncio.Task[None]](), Connections()
    while True:
        try:
            came, peer = await loop.sock_accept(listening)
        except OSError:  # the system has no more of them just now
            await asyncio.sleep(0.1)
            continue
        if not open_.admit(peer[0]):
            came.close()
            continue
        task = loop.create_task(_shake_hands(came, runner, context, partial(open_.release, peer[0])))
        shaking.add(task)
        task.add_done_callback(shaking.discard)


async def _shake_hands(
    came: socket.socket, runner: web.AppRunner, context: ssl.SSLContext, release: Callable[[], None]
) -> None:
    loop, manager = asyncio.get_running_loop(), runner.server
    if manager is None:
        raise ValueError("expected a runner that was set up")

    def make() -> Guarded:
        handler = Guarded(manager, loop=loop, keepalive_timeout=30)
        handler.release = release
        return handler

    try:
        await loop.connect_accepted_socket(make, came, ssl=context, ssl_handshake_timeout=PATIENCE)
    except (OSError, TimeoutError):  # what is none of ours, or says nothing
        release()
