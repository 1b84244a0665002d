"""Simulated phones: the protocol of the page, a clock of their own, and what is true of every row."""

from __future__ import annotations

import asyncio
import json
from contextlib import suppress
from time import perf_counter

import aiohttp

EVERY, PATIENCE, MOST_ROWS = 0.2, 4.0, 400


class SimulatedPhone:
    """One phone.

    Parameters
    ----------
    url : str
        What the code holds.
    port : int or None
        Where the server is reached instead, through a forwarder.
    ppm, offset : float
        Of its clock.
    socket : bool
        By a WebSocket, else by requests.
    """

    def __init__(
        self, url: str, *, port: int | None = None, ppm: float = 0.0, offset: float = 0.0, socket: bool = True
    ) -> None:
        origin, _, self.token = url.partition("/#t=")
        self.origin, self.host = origin, origin.removeprefix("https://")
        address, _, own = self.host.rpartition(":")
        self.base = f"https://{address}:{port or own}"
        self.rate, self.zero = 1 + ppm * 1e-6, perf_counter()
        self.offset = offset
        self.by_socket = socket
        self.rows: list[list[float]] = []
        self.page, self.next, self.seen = ["p1", 1.7e9], 0, 0
        self.got: list[list[float]] = []
        self.state: dict[str, object] = {}
        self.line: list[float] | None = None
        self.over = self.refused = False
        self.failures = 0
        self._wake = asyncio.Event()

    def clock(self, ours: float | None = None) -> float:
        """Return what its clock shows."""
        return self.offset + ((perf_counter() if ours is None else ours) - self.zero) * self.rate

    def add(self, kind: int, *values: float, ours: float | None = None) -> None:
        """Notice something, now or at a time of our clock."""
        self.rows.append([self.clock(ours), kind, *values])
        if kind == 0:
            self._wake.set()

    @property
    def headers(self) -> dict[str, str]:
        return {"Host": self.host, "Origin": self.origin}

    async def run(self) -> None:
        """Join, and send until the session is over."""
        async with aiohttp.ClientSession(connector=aiohttp.TCPConnector(ssl=False)) as session:
            await self._join(session)
            while not self.over and not self.refused:
                with suppress(aiohttp.ClientError, TimeoutError, OSError):
                    await (self._talk(session) if self.by_socket else self._ask(session))
                self.failures += not self.over
                await asyncio.sleep(EVERY)

    async def _join(self, session: aiohttp.ClientSession) -> None:
        body = json.dumps({"token": self.token})
        async with session.post(f"{self.base}/join", data=body, headers=self.headers) as reply:
            if reply.status != 200:
                self.refused = True
                return
            joined = await reply.json()
        self.secret, self.sign = joined["secret"], joined["sign"]

    def _message(self) -> str:
        rows = self.rows[self.next : self.next + MOST_ROWS]
        got, self.got = self.got[:32], self.got[32:]
        left = len(self.rows) - self.next - len(rows)
        values = {"page": self.page, "first": self.next, "rows": rows, "left": left, "got": got, "seen": self.seen}
        return json.dumps({**values, "at": self.clock()})

    def _hear(self, reply: dict) -> bool:
        """Take in an answer; whether it answers a message."""
        if "ping" in reply:
            self.got.append([reply["ping"], self.clock()])
        self.next = max(self.next, reply.get("next", 0))
        self.line = reply.get("line", self.line)
        if "version" in reply:
            self.seen, self.state = reply["version"], reply
        self.over = self.over or "over" in reply
        return "next" in reply

    async def _wait(self) -> None:
        if len(self.rows) - self.next < MOST_ROWS:
            with suppress(TimeoutError):
                await asyncio.wait_for(self._wake.wait(), EVERY)
        self._wake.clear()

    async def _talk(self, session: aiohttp.ClientSession) -> None:
        async with session.ws_connect(f"{self.base}/live", headers=self.headers, compress=0) as socket:
            await socket.send_str(json.dumps({"secret": self.secret}))
            answered = asyncio.Event()

            async def listen() -> None:
                async for reply in socket:
                    if self._hear(json.loads(reply.data)):
                        answered.set()
                answered.set()

            listening = asyncio.get_running_loop().create_task(listen())
            try:
                while not self.over and not listening.done():
                    answered.clear()
                    await socket.send_str(self._message())
                    await asyncio.wait_for(answered.wait(), PATIENCE)
                    await self._wait()
            finally:
                if not listening.done():
                    listening.cancel()

    async def _ask(self, session: aiohttp.ClientSession) -> None:
        headers = {**self.headers, "X-Secret": self.secret}
        timeout = aiohttp.ClientTimeout(total=PATIENCE)
        while not self.over:
            async with session.post(
                f"{self.base}/rows", data=self._message(), headers=headers, timeout=timeout
            ) as reply:
                if reply.status == 401:
                    self.over = True
                    return
                self._hear(await reply.json())
            await self._wait()
