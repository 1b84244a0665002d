"""A real browser without a window, driven by its debugging protocol: pages of phones that are touched and moved.

Each phone is a profile of its own in one Chromium, in a network namespace of its own where this user may make one: all
that its pages reach is one port there, which a forwarder joins with the server. Touches are the browser's own events,
readings come from its overridden sensors; what the page noticed is noted beside it, on the browser's clock.
"""

from __future__ import annotations

import asyncio
import ctypes
import json
import os
import shutil
import socket
import subprocess
import sys
import threading
from contextlib import suppress
from time import perf_counter, time
from typing import TYPE_CHECKING, Any, NamedTuple

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

#: Width and height of a phone's page.
SIZE = (390, 844)
#: Seconds for an answer of the browser.
PATIENCE = 60.0
#: Seconds after which a page is asked again: one that is loading over a dead network answers nothing.
ASKED_AGAIN = 2.0
#: How often the page's clock is asked between two looks at ours, the narrowest pair being taken: until it is as narrow
#: as this, in seconds, and at most so often.
ASKED, NARROW, MOST_ASKED = 60, 0.0005, 1000
_FLAGS = (
    "--headless", "--no-sandbox", "--disable-gpu", "--no-first-run", "--ignore-certificate-errors", "--mute-audio",
    "--disable-background-timer-throttling", "--disable-renderer-backgrounding",
    "--disable-backgrounding-occluded-windows", "--disable-background-networking", "--disable-component-update",
)  # fmt: skip
#: The browser reads descriptor 3 and writes descriptor 4.
_PUT_PIPES = """
import fcntl, os, sys
ends = [fcntl.fcntl(int(each), fcntl.F_DUPFD, 20) for each in sys.argv[1:3]]
os.dup2(ends[0], 3)
os.dup2(ends[1], 4)
os.execvp(sys.argv[3], sys.argv[3:])
"""
_NEW_NETWORK = 0x40000000  # CLONE_NEWNET of sched.h
#: Before the page's own script: its clocks run at another rate, and what it notices is noted beside it.
_NOTES = """
(() => {
  const rate = RATE, now = performance.now.bind(performance);
  window.trueOrigin = performance.timeOrigin;
  performance.now = () => rate * now();
  const atRate = (of, name) => {
    const truly = Object.getOwnPropertyDescriptor(of.prototype, name).get;
    Object.defineProperty(of.prototype, name, { get() { return rate * truly.call(this); }, configurable: true });
    return truly;
  };
  const stamp = atRate(Event, "timeStamp");
  atRate(Performance, "timeOrigin");
  atRate(PerformanceEntry, "startTime");
  atRate(PerformanceResourceTiming, "requestStart");
  atRate(PerformanceResourceTiming, "responseStart");
  const noted = { origin: window.trueOrigin, touches: [], readings: [], beats: [] };
  window.trulyNow = now;
  window.noted = () => JSON.stringify([...JSON.parse(sessionStorage.getItem("noted") || "[]"), noted]);
  const add = window.addEventListener.bind(window);
  window.addEventListener = (kind, act, ...more) => {
    if (kind === "devicemotion") add(kind, (event) =>
      noted.readings.push([stamp.call(event), event.accelerationIncludingGravity.x]));
    add(kind, act, ...more);
  };
  add("pointerdown", (event) => { if (event.target.closest(".field")) noted.touches.push(stamp.call(event)); }, true);
  add("pagehide", () => sessionStorage.setItem("noted", window.noted()));
  document.addEventListener("DOMContentLoaded", () => {
    const beat = document.getElementById("beat");
    new MutationObserver(() => noted.beats.push([now(), beat.textContent])).observe(beat, { childList: true });
  });
  if (!SOCKET) window.WebSocket = class {
    constructor() { setTimeout(() => this.onerror && this.onerror(new Event("error")), 20); }
    close() {}
  };
  if (!MOTION) window.DeviceMotionEvent = undefined;
})();
"""


def find_browser() -> str | None:
    """Return the browser that is here; None without one."""
    return shutil.which("chromium") or shutil.which("chromium-browser")


class Namespace:
    """A network namespace that has nothing but its own loopback; None where this user may not make one."""

    def __init__(self) -> None:
        script = "ip link set lo up && echo up && exec sleep 7200"
        self._holder = subprocess.Popen(
            ["unshare", "--net", "sh", "-c", script], stdout=subprocess.PIPE, stderr=subprocess.DEVNULL
        )
        assert self._holder.stdout is not None
        self.works = self._holder.stdout.readline() == b"up\n"

    @property
    def entering(self) -> list[str]:
        """What begins a command in it."""
        return ["nsenter", f"--net=/proc/{self._holder.pid}/ns/net"] if self.works else []

    def listen(self, port: int) -> socket.socket:
        """Return a socket that listens in it, at this port of its loopback."""
        made: list[socket.socket] = []

        def make() -> None:  # a thread alone changes over, and ends
            libc = ctypes.CDLL(None, use_errno=True)
            where = os.open(f"/proc/{self._holder.pid}/ns/net", os.O_RDONLY)
            try:
                if libc.setns(where, _NEW_NETWORK):
                    raise OSError(ctypes.get_errno(), "setns")
            finally:
                os.close(where)
            made.append(socket.create_server(("127.0.0.1", port), backlog=64))

        thread = threading.Thread(target=make)
        thread.start()
        thread.join()
        return made[0]

    def close(self) -> None:
        """Let it go."""
        self._holder.kill()
        self._holder.wait()
        assert self._holder.stdout is not None
        self._holder.stdout.close()


class Noted(NamedTuple):
    """What a page noticed, on our clock: touches of its fields, readings, and counts that came into the picture.

    Of a reading its time and its first value, m/s².
    """

    touches: list[float]
    readings: list[tuple[float, float]]
    beats: list[tuple[float, str]]


class Browser:
    """One Chromium.

    Parameters
    ----------
    folder : Path
        Where its profile may lie.
    entering : sequence of str
        What begins its command.
    """

    def __init__(self, folder: Path, *, entering: list[str] | None = None) -> None:
        self._folder, self._entering = folder, list(entering or [])
        self._waiting: dict[int, asyncio.Future[dict[str, Any]]] = {}
        self._last = 0
        self.heard: list[Callable[[dict[str, Any]], None]] = []

    async def start(self) -> None:
        """Start it, and talk to it through two pipes."""
        theirs_in, ours_out = os.pipe()
        ours_in, theirs_out = os.pipe()
        command = [find_browser() or "", *_FLAGS, "--remote-debugging-pipe", f"--user-data-dir={self._folder}"]
        put = [sys.executable, "-c", _PUT_PIPES, str(theirs_in), str(theirs_out)]
        self.process = subprocess.Popen(  # noqa: ASYNC220  it returns at once
            [*put, *self._entering, *command, "about:blank"],
            pass_fds=(theirs_in, theirs_out), stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )  # fmt: skip
        os.close(theirs_in)
        os.close(theirs_out)
        self._out = ours_out
        loop = asyncio.get_running_loop()
        self._answers = asyncio.StreamReader(limit=1 << 26)
        pipe = os.fdopen(ours_in, "rb", 0)
        self._transport, _ = await loop.connect_read_pipe(lambda: asyncio.StreamReaderProtocol(self._answers), pipe)
        self._listening = loop.create_task(self._listen())
        await self.call("Browser.getVersion")

    async def _listen(self) -> None:
        with suppress(asyncio.IncompleteReadError):
            while True:
                told = json.loads((await self._answers.readuntil(b"\0"))[:-1])
                waiting = self._waiting.pop(told.get("id"), None)
                if waiting is not None and not waiting.done():
                    waiting.set_result(told)
                for hear in self.heard if waiting is None else ():
                    hear(told)

    async def call(self, method: str, session: str | None = None, **values: object) -> dict[str, Any]:
        """Ask for something, and return the answer."""
        self._last += 1
        asked = {"id": self._last, "method": method, "params": values}
        answer = self._waiting[self._last] = asyncio.get_running_loop().create_future()
        os.write(self._out, json.dumps(asked if session is None else asked | {"sessionId": session}).encode() + b"\0")
        told = await asyncio.wait_for(answer, PATIENCE)
        if "error" in told:
            raise RuntimeError(f"{method}: {told['error']}")
        result: dict[str, Any] = told["result"]
        return result

    async def close(self) -> None:
        """End it."""
        with suppress(RuntimeError, TimeoutError, OSError):
            await self.call("Browser.close")
        try:
            await asyncio.to_thread(self.process.wait, 10)
        except subprocess.TimeoutExpired:
            self.process.kill()
            self.process.wait()
        self._listening.cancel()
        self._transport.close()
        os.close(self._out)


class BrowserPhone:
    """A page of one phone.

    Parameters
    ----------
    browser : Browser
    ppm : float
        By how much its clock is fast.
    socket : bool
        Whether a WebSocket opens; else the page has requests alone.
    motion : bool
        Whether its browser tells motion.
    """

    def __init__(self, browser: Browser, *, ppm: float = 0.0, socket: bool = True, motion: bool = True) -> None:
        self._browser = browser
        flags = {"RATE": repr(1 + ppm * 1e-6), "SOCKET": str(socket).lower(), "MOTION": str(motion).lower()}
        self._script = _NOTES
        for name, value in flags.items():
            self._script = self._script.replace(name, value)
        self.by_socket = socket
        self._zeros: dict[float, tuple[float, float]] = {}

    async def open(self, url: str) -> None:
        """Open the address of the code."""
        browser = self._browser
        own = (await browser.call("Target.createBrowserContext"))["browserContextId"]
        made = await browser.call(
            "Target.createTarget", url="about:blank", browserContextId=own, newWindow=True, width=SIZE[0],
            height=SIZE[1],
        )  # fmt: skip
        attached = await browser.call("Target.attachToTarget", targetId=made["targetId"], flatten=True)
        self.session: str = attached["sessionId"]
        await self.call("Page.enable")
        await self.call("Page.addScriptToEvaluateOnNewDocument", source=self._script)
        await self.call("Emulation.setTouchEmulationEnabled", enabled=True)
        await self.call(
            "Emulation.setDeviceMetricsOverride", width=SIZE[0], height=SIZE[1], deviceScaleFactor=1, mobile=True
        )
        for sensor in ("accelerometer", "linear-acceleration", "gyroscope"):
            known = {"available": True, "minimumFrequency": 1, "maximumFrequency": 60}
            await self.call("Emulation.setSensorOverrideEnabled", enabled=True, type=sensor, metadata=known)
        await self.move((0.0, 0.0, 9.8), (0.0, 0.0, 0.0))
        await self.call("Page.navigate", url=url)
        await self.wait_for("document.readyState === 'complete' && window.trulyNow")
        await self._find_zero()

    async def call(self, method: str, **values: object) -> dict[str, Any]:
        """Ask this page for something."""
        return await self._browser.call(method, self.session, **values)

    async def value(self, expression: str) -> Any:
        """Return the value of an expression in the page."""
        found = await self.call("Runtime.evaluate", expression=expression, returnByValue=True)
        if "exceptionDetails" in found:
            raise RuntimeError(found["exceptionDetails"]["exception"].get("description", expression))
        return found["result"].get("value")

    async def wait_for(self, expression: str, *, seconds: float = PATIENCE) -> bool:
        """Wait until something is true in the page; whether it became so."""
        end = perf_counter() + seconds
        while perf_counter() < end:
            with suppress(RuntimeError, TimeoutError):
                if await asyncio.wait_for(self.value(f"!!({expression})"), ASKED_AGAIN):
                    return True
            await asyncio.sleep(0.05)
        return False

    async def _find_zero(self) -> None:
        """Find the beginning of this opening's clock on ours: both run at one rate, being the same machine's."""
        pairs: list[tuple[float, float]] = []
        while len(pairs) < ASKED or (min(pairs)[0] > NARROW and len(pairs) < MOST_ASKED):
            before = perf_counter()
            shown = await self.value("trulyNow()")
            pairs.append((perf_counter() - before, (before + perf_counter()) / 2 - shown / 1000))
        width, zero = min(pairs)
        self._zeros[await self.value("trueOrigin")] = (zero, width / 2)

    @property
    def uncertainty(self) -> float:
        """Seconds by which our knowledge of its clock may be wrong."""
        return max(width for _, width in self._zeros.values())

    async def reload(self) -> None:
        """Load the page again, as often as it takes, as somebody does whose network is away."""
        await self.value("window.old = true")
        loaded = "document.readyState === 'complete' && window.trulyNow && document.getElementById('beat')"
        while True:
            with suppress(RuntimeError, TimeoutError):
                await asyncio.wait_for(self.call("Page.reload"), ASKED_AGAIN)
            if await self.wait_for(f"{loaded} && !window.old", seconds=3.0):
                break
        await self._find_zero()

    async def touch(self, field: int = 0, *, at: float | None = None) -> None:
        """Touch a field, now or, as far as the event says, at a time of our clock that has been."""
        x, y = await self._centre(f"document.querySelectorAll('.field')[{field}]")
        stamp = time() + ((perf_counter() if at is None else at) - perf_counter())
        await self.call("Input.dispatchTouchEvent", type="touchStart", touchPoints=[{"x": x, "y": y}], timestamp=stamp)
        await self.call("Input.dispatchTouchEvent", type="touchEnd", touchPoints=[])

    async def press(self, name: str) -> None:
        """Press a button of the page."""
        x, y = await self._centre(f"document.getElementById('{name}')")
        await self.call("Input.dispatchTouchEvent", type="touchStart", touchPoints=[{"x": x, "y": y}])
        await self.call("Input.dispatchTouchEvent", type="touchEnd", touchPoints=[])

    async def _centre(self, element: str) -> tuple[float, float]:
        box = await self.value(f"(({element}).getBoundingClientRect().toJSON())")
        return box["x"] + box["width"] / 2, box["y"] + box["height"] / 2

    async def move(self, acceleration: tuple[float, ...], rotation: tuple[float, ...]) -> None:
        """Let its sensors read something: m/s², rad/s."""
        both = (("accelerometer", acceleration), ("linear-acceleration", acceleration), ("gyroscope", rotation))
        for sensor, values in both:
            reading = {"xyz": dict(zip("xyz", values, strict=True))}
            await self.call("Emulation.setSensorOverrideReadings", type=sensor, reading=reading)

    async def noted(self) -> Noted:
        """Return what the page noticed, in all openings."""
        openings = json.loads(await self.value("noted()"))
        found = Noted([], [], [])
        for each in openings:
            # of one that was loaded anew at once nothing but the beginning is known, by the system's time
            near = min(self._zeros, key=lambda known: abs(known - each["origin"]))
            zero = self._zeros[near][0] + (each["origin"] - near) / 1000
            found.touches.extend(zero + stamp / 1000 for stamp in each["touches"])
            found.readings.extend((zero + stamp / 1000, value) for stamp, value in each["readings"])
            found.beats.extend((zero + stamp / 1000, text) for stamp, text in each["beats"])
        return found

    async def picture(self) -> bytes:
        """Return a picture of it (PNG)."""
        import base64

        return base64.b64decode((await self.call("Page.captureScreenshot", format="png"))["data"])
