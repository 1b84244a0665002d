"""The server's process: one address, our own pages, rows by WebSocket or requests. One process a session.

It is told what to do on its standard input, a line of JSON each, and tells on its standard output. When the input
ends, because the session is over or the program was killed, it ends too.
"""

from __future__ import annotations

import asyncio
import gc
import html
import json
import queue
import re
import socket
import sys
import threading
from contextlib import suppress
from functools import partial
from pathlib import Path
from time import perf_counter
from typing import TYPE_CHECKING, Any

from aiohttp import WSCloseCode, WSMsgType, web

from tempo_coach.live.phones.certificate import make_context
from tempo_coach.live.phones.connections import PATIENCE, Guarded, accept, when_came
from tempo_coach.live.phones.hub import Hub
from tempo_coach.live.phones.messages import MOST_BYTES, BadMessage, read_message, read_object
from tempo_coach.live.phones.page_words import say_page

if TYPE_CHECKING:
    from collections.abc import Awaitable, Callable

#: What is served, and as what.
PAGES = Path(__file__).parent / "pages"
_TYPES = {".html": "text/html", ".js": "text/javascript", ".css": "text/css"}
#: Seconds without a message after which a WebSocket is closed.
QUIET = 20.0
#: Seconds in which phones that ask now and then learn that the session is over.
FAREWELL = 0.8
#: Seconds in which connections have to close at the end.
CLOSING = 0.5
#: Seconds between two looks at who is silent.
LOOK_EVERY = 0.5
#: What a page may load, and from where: nothing from elsewhere.
POLICY = {
    "default-src": "'none'",
    "script-src": "'self'",
    "style-src": "'self'",
    "connect-src": "'self' wss:",
    "base-uri": "'none'",
    "form-action": "'none'",
    "frame-ancestors": "'none'",
}
HEADERS = {
    "Cache-Control": "no-store",
    "Content-Security-Policy": "; ".join(f"{what} {whence}" for what, whence in POLICY.items()),
    "Referrer-Policy": "no-referrer",
    "X-Content-Type-Options": "nosniff",
    "Cross-Origin-Resource-Policy": "same-origin",
}


class Server:
    """HTTP front end of one hub.

    Parameters
    ----------
    hub : Hub
    host : str
        Address and port as a browser writes them after ``https://``.
    emit : callable
        Takes an event for the program.
    words : dict of str to str
        What the page says, as :func:`tempo_coach.live.phones.page_words.say_page` has it.
    """

    def __init__(
        self, hub: Hub, host: str, emit: Callable[[dict[str, Any]], None], words: dict[str, str] | None = None
    ) -> None:
        self.hub = hub
        self.host = host
        self._over = False
        self._emit = emit
        self._sockets: dict[int, web.WebSocketResponse] = {}
        self._pushed: set[asyncio.Task[None]] = set()
        self._files = {path.name: path.read_bytes() for path in PAGES.iterdir() if path.suffix in _TYPES}
        self._files["index.html"] = _fill_page(self._files["index.html"].decode(), words or say_page())

    def make_app(self) -> web.Application:
        """Return the web application."""
        app = web.Application(middlewares=[self._check], client_max_size=MOST_BYTES)
        app.router.add_get("/", partial(self._page, "index.html"))
        for name in self._files:
            if name != "index.html":
                app.router.add_get(f"/{name}", partial(self._page, name))
        app.router.add_post("/join", self._join)
        app.router.add_post("/rows", self._rows)
        app.router.add_get("/live", self._live)
        return app

    def flush(self) -> None:
        """Send news to the program, and changed displays to phones."""
        events, self.hub.events = self.hub.events, []
        for event in events:
            self._emit(event)

    def obey(self, order: dict[str, Any]) -> None:
        """Execute an order of the program."""
        hub = self.hub
        match order["order"]:
            case "confirm":
                hub.confirm(order["phone"], order["name"], tuple(order["roles"]), tuple(order["fields"]))
                hub.call(order["phone"], tuple(order["called"]))
            case "refuse":
                hub.refuse(order["phone"])
                self._push(order["phone"], {"over": True}, close=True)
            case "show":
                hub.show(order["values"])
            case "lay":
                hub.lay(order["values"])
            case "begin":
                hub.begin(order["take"], order["start"])
            case "end":
                hub.end(order["stamp"])
            case "readings":
                hub.tell_readings()
            case "collect":
                hub.collect(whole=order["whole"])
        if order["order"] in ("confirm", "show", "lay"):
            for number in self._sockets:
                if hub.knows(number):
                    self._push(number, hub.state_for(hub.phones[number]))
        self.flush()

    async def say_over(self) -> None:
        """Tell every page that the session is over."""
        self._over = True
        asking = any(
            not (phone.silent or phone.gone) and number not in self._sockets
            for number, phone in self.hub.phones.items()
        )
        for number in list(self._sockets):
            self._push(number, {"over": True}, close=True)
        if asking:  # those that come by requests are told when they ask
            await asyncio.sleep(FAREWELL)
        if self._pushed:
            await asyncio.wait(self._pushed, timeout=1.0)

    def _close(self, socket: web.WebSocketResponse) -> None:
        async def close() -> None:
            with suppress(ConnectionError, RuntimeError, TimeoutError):
                await asyncio.wait_for(socket.close(), PATIENCE)

        task = asyncio.get_running_loop().create_task(close())
        self._pushed.add(task)
        task.add_done_callback(self._pushed.discard)

    def _push(self, number: int, values: dict[str, Any], *, close: bool = False) -> None:
        socket = self._sockets.get(number)
        if socket is None or socket.closed:
            return

        async def send() -> None:
            with suppress(ConnectionError, RuntimeError):
                await asyncio.wait_for(socket.send_str(json.dumps(values)), PATIENCE)
                if close:
                    await asyncio.wait_for(socket.close(), PATIENCE)

        task = asyncio.get_running_loop().create_task(send())
        self._pushed.add(task)
        task.add_done_callback(self._pushed.discard)

    @web.middleware
    async def _check(
        self, request: web.Request, handler: Callable[[web.Request], Awaitable[web.StreamResponse]]
    ) -> web.StreamResponse:
        """Refuse requests under another host name (DNS rebinding) or from another page."""
        guard = request.protocol
        if isinstance(guard, Guarded):
            guard.spoke = True
        origin = request.headers.get("Origin")
        told = origin is not None or request.method == "POST" or request.path == "/live"
        if request.headers.get("Host") != self.host or (told and origin != f"https://{self.host}"):
            return web.Response(status=403, headers=HEADERS)
        try:
            return await handler(request)
        except web.HTTPException as error:
            return web.Response(status=error.status, headers=HEADERS)
        except (BadMessage, UnicodeDecodeError):
            return web.Response(status=400, headers=HEADERS)
        except TimeoutError:
            return web.Response(status=408, headers=HEADERS)

    async def _page(self, name: str, _request: web.Request) -> web.Response:
        kind = _TYPES[Path(name).suffix]
        return web.Response(body=self._files[name], content_type=kind, charset="utf-8", headers=HEADERS)

    async def _join(self, request: web.Request) -> web.Response:
        values = read_object(await asyncio.wait_for(request.read(), PATIENCE))
        me = str(values.get("me", ""))[:32]
        joined = self.hub.join(str(values.get("token", ""))[:64], perf_counter(), me=me)
        self.flush()
        if joined is None:
            return web.Response(status=403, headers=HEADERS)
        return web.json_response(joined, headers=HEADERS)

    async def _rows(self, request: web.Request) -> web.Response:
        raw = await asyncio.wait_for(request.read(), PATIENCE)
        received = when_came(request)
        number = self.hub.door.whose(request.headers.get("X-Secret", ""))
        if number is None:
            return web.Response(status=401, headers=HEADERS)
        if self._over:
            return web.json_response({"over": True}, headers=HEADERS)
        reply = self.hub.answer(number, read_message(raw), received)
        self.flush()
        response = web.json_response(reply, headers=HEADERS, status=429 if "slow" in reply else 200)
        self.hub.sent(number, reply, perf_counter())
        return response

    async def _live(self, request: web.Request) -> web.StreamResponse:
        socket = web.WebSocketResponse(max_msg_size=MOST_BYTES, compress=False, autoping=True)
        await socket.prepare(request)
        number = None
        try:
            first = await asyncio.wait_for(socket.receive(), PATIENCE)
            if first.type is WSMsgType.TEXT:
                number = self.hub.door.whose(str(read_object(first.data).get("secret", "")))
            if number is None:
                await socket.close(code=WSCloseCode.POLICY_VIOLATION)
                return socket
            before, self._sockets[number] = self._sockets.get(number), socket
            if before is not None:
                self._close(before)  # it may be one that an outage cut off: nobody waits for its answer
            await self._listen(socket, number, request)
        except (BadMessage, TimeoutError):
            await socket.close(code=WSCloseCode.POLICY_VIOLATION)
        finally:
            if number is not None and self._sockets.get(number) is socket:
                del self._sockets[number]
        return socket

    async def _listen(self, socket: web.WebSocketResponse, number: int, request: web.Request) -> None:
        while True:
            message = await asyncio.wait_for(socket.receive(), QUIET)
            received = when_came(request)
            if message.type is not WSMsgType.TEXT or not self.hub.knows(number):
                return
            reply = self.hub.answer(number, read_message(message.data), received)
            text = json.dumps(reply)
            self.hub.sent(number, reply, perf_counter())
            await asyncio.wait_for(socket.send_str(text), PATIENCE)
            self.flush()


def _fill_page(page: str, words: dict[str, str]) -> bytes:
    """Return the page with its words: escaped where they stand, and all of them as data for what moves on it."""
    data = json.dumps(words).replace("<", "\\u003c")
    return re.sub(
        r"\{(\w+)\}", lambda found: data if found[1] == "words" else html.escape(words[found[1]]), page
    ).encode()


async def serve(
    address: str,
    port: int,
    emit: Callable[[dict[str, Any]], None],
    orders: asyncio.Queue[Any],
    words: dict[str, str] | None = None,
) -> None:
    """Serve until the orders end."""
    context, fingerprint = await asyncio.to_thread(make_context, address)
    hub = Hub()
    server = Server(hub, f"{address}:{port}", emit, words)
    runner = web.AppRunner(server.make_app(), access_log=None, handle_signals=False, shutdown_timeout=CLOSING)
    await runner.setup()
    listening = socket.create_server((address, port), backlog=64)
    listening.setblocking(False)
    accepting = asyncio.get_running_loop().create_task(accept(listening, runner, context))
    port = listening.getsockname()[1]
    server.host = f"{address}:{port}" if port != 443 else address
    emit({"event": "listening", "port": port, "token": hub.door.token, "fingerprint": fingerprint})
    gc.collect()
    gc.freeze()
    looking = asyncio.get_running_loop().create_task(_look(server))
    try:
        while (order := await orders.get()) is not None:
            server.obey(order)
        await server.say_over()
    finally:
        looking.cancel()
        accepting.cancel()
        listening.close()
        await runner.cleanup()


async def _look(server: Server) -> None:
    while True:
        await asyncio.sleep(LOOK_EVERY)
        server.hub.look(perf_counter())
        server.flush()


async def _run(address: str, port: int, words: dict[str, str]) -> None:
    loop, orders = asyncio.get_running_loop(), asyncio.Queue[Any]()
    said: queue.SimpleQueue[bytes | None] = queue.SimpleQueue()

    def read() -> None:
        for line in sys.stdin.buffer:
            loop.call_soon_threadsafe(orders.put_nowait, json.loads(line))
        loop.call_soon_threadsafe(orders.put_nowait, None)

    def write() -> None:
        while (line := said.get()) is not None:
            try:
                sys.stdout.buffer.write(line)
                sys.stdout.buffer.flush()
            except OSError:  # nobody listens any more
                loop.call_soon_threadsafe(orders.put_nowait, None)
                return

    def emit(event: dict[str, Any]) -> None:
        said.put(json.dumps(event).encode() + b"\n")

    threading.Thread(target=read, daemon=True).start()
    writer = threading.Thread(target=write, daemon=True)
    writer.start()
    try:
        await serve(address, port, emit, orders, words)
    except OSError as error:
        emit({"event": "refused", "errno": error.errno})
    said.put(None)
    writer.join(1.0)


def main() -> None:
    """Serve at the address and port of the command line, pages with the words that stand behind these."""
    asyncio.run(_run(sys.argv[1], int(sys.argv[2]), json.loads(sys.argv[3])))


if __name__ == "__main__":
    main()
