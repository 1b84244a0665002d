"""Connections to the server: counted before they shake hands, and closed where they say nothing."""

from __future__ import annotations

import asyncio
from time import perf_counter
from typing import TYPE_CHECKING

from aiohttp import web

if TYPE_CHECKING:
    import socket
    import ssl

    from tempo_coach.live.phones.server import Server

#: Seconds that a connection may take to say whole what it wants, and to shake hands.
PATIENCE = 5.0


class Guarded(web.RequestHandler):
    """One connection, closed where there are too many, or where its request does not arrive in time."""

    spoke = False
    came: float | None = None
    server: Server | None = None
    address: str | None = None

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
        if self.server is not None and self.address is not None:
            self.server.release(self.address)
            self.address = None
        super().connection_lost(exc)


def when_came(request: web.Request) -> float:
    """Return when the end of what a connection sent came."""
    guard = request.protocol
    return guard.came if isinstance(guard, Guarded) and guard.came is not None else perf_counter()


async def accept(listening: socket.socket, runner: web.AppRunner, server: Server, context: ssl.SSLContext) -> None:
    """Accept connections, counted before the handshake, which takes a quarter of a megabyte."""
    loop, shaking = asyncio.get_running_loop(), set[asyncio.Task[None]]()
    while True:
        try:
            came, peer = await loop.sock_accept(listening)
        except OSError:  # the system has no more of them just now
            await asyncio.sleep(0.1)
            continue
        if not server.admit(peer[0]):
            came.close()
            continue
        task = loop.create_task(_shake_hands(came, peer[0], runner, server, context))
        shaking.add(task)
        task.add_done_callback(shaking.discard)


async def _shake_hands(
    came: socket.socket, address: str, runner: web.AppRunner, server: Server, context: ssl.SSLContext
) -> None:
    loop, manager = asyncio.get_running_loop(), runner.server
    if manager is None:
        raise ValueError("expected a runner that was set up")

    def make() -> Guarded:
        handler = Guarded(manager, loop=loop, keepalive_timeout=30)
        handler.server, handler.address = server, address
        return handler

    try:
        await loop.connect_accepted_socket(make, came, ssl=context, ssl_handshake_timeout=PATIENCE)
    except (OSError, TimeoutError):  # what is none of ours, or says nothing
        server.release(address)
