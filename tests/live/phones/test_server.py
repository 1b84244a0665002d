"""The server on this machine alone: what strangers, floods and other pages get, and that phones are answered."""

from __future__ import annotations

import asyncio
import contextlib
import json
import socket
import ssl
from typing import TYPE_CHECKING, Any

import pytest

aiohttp = pytest.importorskip("aiohttp")
pytest.importorskip("cryptography")

from tempo_coach.live.phones import connections  # noqa: E402
from tempo_coach.live.phones import server as servers  # noqa: E402
from tests import HANG  # noqa: E402
from tests.generators.phones import SimulatedPhone  # noqa: E402

if TYPE_CHECKING:
    from collections.abc import AsyncIterator, Awaitable, Callable


class Served:
    """A server in this process: what it told, and what it is told."""

    def __init__(self) -> None:
        self.events: list[dict[str, Any]] = []
        self.orders: asyncio.Queue[Any] = asyncio.Queue()

    def told(self, what: str) -> list[dict[str, Any]]:
        return [event for event in self.events if event["event"] == what]

    @property
    def token(self) -> str:
        return [event for event in self.events if "token" in event][-1]["token"]

    @property
    def port(self) -> int:
        return self.told("listening")[0]["port"]

    @property
    def origin(self) -> str:
        return f"https://127.0.0.1:{self.port}"

    @property
    def url(self) -> str:
        return f"{self.origin}/#t={self.token}"

    async def until(self, seen: Callable[[], object]) -> None:
        async def wait() -> None:
            while not seen():  # noqa: ASYNC110  what is waited for comes from a socket
                await asyncio.sleep(0.01)

        await asyncio.wait_for(wait(), HANG)


@contextlib.asynccontextmanager
async def serving() -> AsyncIterator[Served]:
    served = Served()
    task = asyncio.create_task(servers.serve("127.0.0.1", 0, served.events.append, served.orders))
    await served.until(lambda: served.events or task.done())
    try:
        yield served
    finally:
        served.orders.put_nowait(None)
        await asyncio.wait_for(task, HANG)


def run(check: Callable[[Served, aiohttp.ClientSession], Awaitable[None]]) -> None:
    async def all_of_it() -> None:
        connector = aiohttp.TCPConnector(ssl=False, limit=0)
        async with serving() as served, aiohttp.ClientSession(connector=connector) as session:
            await check(served, session)

    asyncio.run(all_of_it())


def test_pages_are_our_own_and_load_nothing_from_elsewhere():
    async def check(served, session):
        async with session.get(served.origin) as reply:
            text = await reply.text()
            policy = reply.headers["Content-Security-Policy"]
        assert "default-src 'none'" in policy and "script-src 'self'" in policy
        assert text.count("://") == 0
        for name in ("page.js", "page.css"):
            async with session.get(f"{served.origin}/{name}") as reply:
                assert reply.status == 200 and name in text
                assert "://" not in (await reply.text()).replace("wss://${location.host}", "")
        for path in ("/server.py", "/../server.py", "/..%2fserver.py", "/index.html", "/%00"):
            async with session.get(served.origin + path) as reply:
                assert reply.status in (400, 404)

    run(check)


def test_another_page_and_another_name_are_refused():
    async def check(served, session):
        good = {"Origin": served.origin}
        for headers in (
            {}, {"Origin": "https://evil.example"}, {"Origin": "null"}, {**good, "Host": "evil.example"},
            {"Origin": f"http://127.0.0.1:{served.port}"}, {**good, "Host": f"localhost:{served.port}"},
        ):  # fmt: skip
            async with session.post(
                f"{served.origin}/join", data=json.dumps({"token": served.token}), headers=headers
            ) as reply:
                assert reply.status == 403, headers
            with pytest.raises(aiohttp.WSServerHandshakeError):
                await session.ws_connect(f"{served.origin}/live", headers=headers)
        async with session.get(served.origin, headers={"Host": "rebound.example"}) as reply:
            assert reply.status == 403
        assert not served.told("asks")

    run(check)


def test_bad_messages_close_and_say_nothing_and_nothing_else_suffers():
    async def check(served, session):
        good = {"Origin": served.origin}
        async with session.post(f"{served.origin}/join", data=json.dumps({"token": "wrong"}), headers=good) as reply:
            assert reply.status == 403
        async with session.post(
            f"{served.origin}/join", data=json.dumps({"token": served.token}), headers=good
        ) as reply:
            secret = (await reply.json())["secret"]
        theirs = {**good, "X-Secret": secret}
        for body, status in ((b"{", 400), (b"\xff", 400), (b"[]", 400), (b"a" * 1_000_000, 413), (b'{"at": 1}', 400)):
            async with session.post(f"{served.origin}/rows", data=body, headers=theirs) as reply:
                assert reply.status == status, body[:9]
        async with session.post(f"{served.origin}/rows", data=b"{}", headers=good) as reply:
            assert reply.status == 401
        for first in (json.dumps({"secret": "wrong"}), "{", json.dumps({"secret": secret})):
            async with session.ws_connect(f"{served.origin}/live", headers=good) as ws:
                await ws.send_str(first)
                if secret in first:
                    await ws.send_str("x" * 1_000_000)
                assert (await ws.receive(HANG)).type in (aiohttp.WSMsgType.CLOSE, aiohttp.WSMsgType.CLOSED)
        async with session.get(served.origin) as reply:
            assert reply.status == 200

    run(check)


def test_silent_connections_are_closed_and_no_more_are_let_in_than_there_is_room_for(monkeypatch):
    monkeypatch.setattr(connections, "PATIENCE", 0.3)
    context = ssl.create_default_context()
    context.check_hostname, context.verify_mode = False, ssl.CERT_NONE

    async def check(served, session):
        open_ = []
        for k in range(60):  # a third says nothing at all, a third shakes hands, a third begins to ask
            with contextlib.suppress(OSError):
                asked = asyncio.open_connection("127.0.0.1", served.port, ssl=context if k % 3 else None)
                reader, writer = await asyncio.wait_for(asked, HANG)
                if k % 3 == 2:
                    writer.write(b"GET / HTTP/1.1\r\nHost: ")
                open_.append((reader, writer))
        ends = await asyncio.gather(
            *(asyncio.wait_for(reader.read(), HANG) for reader, _ in open_), return_exceptions=True
        )
        assert all(end == b"" or isinstance(end, OSError) for end in ends)
        for _, writer in open_:
            writer.transport.abort()
        async with session.get(served.origin) as reply:
            assert reply.status == 200

    run(check)


def test_no_more_handshakes_are_begun_than_one_address_may(monkeypatch):
    monkeypatch.setattr(connections, "PATIENCE", 1.0)
    monkeypatch.setattr(connections, "MOST_OF_ONE", 5)

    async def check(served, session):
        begun = [await asyncio.open_connection("127.0.0.1", served.port) for _ in range(12)]
        reads = [asyncio.ensure_future(reader.read()) for reader, _ in begun]
        await served.until(lambda: sum(read.done() for read in reads) >= 7)
        assert sum(not read.done() for read in reads) == 5, "those that were first go on"
        await asyncio.wait(reads, timeout=HANG)
        async with session.get(served.origin) as reply:
            assert reply.status == 200
        for _, writer in begun:
            writer.transport.abort()

    run(check)


def test_a_session_by_socket_and_by_requests_ends_by_being_said_to_be_over():
    async def check(served, session):
        phones, tasks = [], []
        for by_socket in (True, False):
            phones.append(SimulatedPhone(served.url, socket=by_socket, offset=50.0))
            before = served.token
            tasks.append(asyncio.create_task(phones[-1].run()))
            await served.until(lambda before=before: served.token != before)
        for asked in served.told("asks"):
            order = {
                "order": "confirm",
                "phone": asked["phone"],
                "name": "Ada",
                "roles": ["tap"],
                "fields": ["right"],
                "called": ["right"],
            }
            served.orders.put_nowait(order)
        await served.until(lambda: all(phone.line and phone.state.get("confirmed") for phone in phones))
        served.orders.put_nowait({"order": "begin", "take": 1, "start": asyncio.get_running_loop().time()})
        await asyncio.sleep(0.05)
        for phone in phones:
            phone.add(0, 0)
        await served.until(lambda: len(served.told("tap")) == 2)
        served.orders.put_nowait(None)
        await asyncio.wait_for(asyncio.gather(*tasks), HANG)
        assert all(phone.over for phone in phones)

    run(check)


def test_a_port_that_is_taken_is_refused():
    async def check() -> None:
        with socket.socket() as taken:
            taken.bind(("127.0.0.1", 0))
            taken.listen()
            with pytest.raises(OSError, match="in use"):
                await servers.serve("127.0.0.1", taken.getsockname()[1], lambda _: None, asyncio.Queue())

    asyncio.run(check())
