"""Five phones that are pages of a real browser: touches, readings, what is shown, an outage and pages loaded anew.

One headless Chromium without a window, a profile for each phone, in a network namespace of its own; the forwarder of
``bench_phones`` joins it with the server. It computes beside the server on the same machine, and draws without a
graphics card: all times here are beside its load. No real phone is in them: a panel, a sensor and a radio add theirs.
"""

from __future__ import annotations

import asyncio
import os
import tempfile
from collections import Counter
from contextlib import suppress
from pathlib import Path
from time import perf_counter, time
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from tempo_coach import coach
from tempo_coach.live.inputs.source import Collected
from tempo_coach.live.phones.link import Phones
from tests.benchmarks.bench_phones import NETWORKS, PPM, SOCKETS, cpu_of, until
from tests.benchmarks.table import Row
from tests.generators.browser import Browser, BrowserPhone, Namespace, Noted, find_browser
from tests.generators.network import Forwarder

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from tempo_coach.pattern.plan.plan import Plan
    from tests.generators.network import Way

#: Seconds of a take, and of its outage; when in it two of the phones are loaded anew.
SECONDS, OUTAGE, RELOAD = float(os.environ.get("TEMPO_COACH_BROWSER_SECONDS", "60")), (0.4, 10.0), 3.0
TAPS_HZ, MOVES_HZ = 1.5, 30.0
#: The phones that are loaded anew: one with a socket, one without.
RELOADED = (0, 4)
#: Seconds between two counts that are shown, and between two pictures.
COUNT, FRAME = 0.5, 1 / 60
#: Seconds at both ends of a take in which a reading may lie on either side.
EDGE = 0.1
#: m/s² from one position of the sensors to the next, by which readings are told apart: a browser rounds to a tenth.
STEP = 0.1


class Shown(NamedTuple):
    """What came of one phone: errors of taps, wrong taps, readings noticed, lost and doubled, lateness of counts; s."""

    socket: bool
    errors: np.ndarray
    wrong_taps: int
    readings: int
    lost: int
    doubled: int
    late: np.ndarray
    counts_missing: int
    bound: float


def run() -> Iterator[Row]:
    """Measure each network."""
    if find_browser() is None:
        yield Row("not measured: no Chromium (Debian: apt-get install chromium)", float("nan"))
        return
    readings = lost = 0
    for name, (up, down, floor, aim) in NETWORKS.items():
        shown, seen, share = asyncio.run(_talk(up, down))
        for way, socket in (("socket", True), ("requests", False)):
            mine = [each for each in shown if each.socket is socket]
            yield Row(f"{name}, {way}: taps lost or doubled", sum(each.wrong_taps for each in mine), "", 0)
            worst = max(1000 * float(np.quantile(np.abs(each.errors), 0.95)) for each in mine)
            yield Row(f"{name}, {way}: error of 95 % of taps, worst phone", worst, "ms", floor, aim)
            above = sum(int((np.abs(each.errors) > each.bound).sum()) for each in mine)
            yield Row(f"{name}, {way}: taps beyond the stated bound", above, "", 0)
            yield Row(f"{name}, {way}: readings doubled", sum(each.doubled for each in mine), "", 0)
        late = np.concatenate([each.late for each in shown])
        within = 100 * float((np.abs(late) <= FRAME).mean())
        yield Row(f"{name}: counts drawn within a frame of their time", within, "%", 95, better="high")
        yield Row(f"{name}: counts never drawn", sum(each.counts_missing for each in shown), "", 0)
        yield Row(f"{name}: a phone's pictures within a frame, by their swaps", 100 * seen, "%", 95, better="high")
        yield Row(f"{name}: the server's share of a core, beside the browser", 100 * share, "%", 10)
        readings, lost = readings + sum(each.readings for each in shown), lost + sum(each.lost for each in shown)
    yield Row(f"readings lost, of {readings}", lost, "", 0)


async def _talk(up: Way, down: Way) -> tuple[list[Shown], float, float]:
    """Let five pages take part in one take; what came of each, pictures in time, the server's share of a core."""
    plan = coach.lay(coach.Request("clubs_mills", tempo_bpm=120, cycles=8, hand="right"))
    link, namespace = Phones("127.0.0.1", 0, members=True), Namespace()
    outage = (OUTAGE[0] * SECONDS, OUTAGE[0] * SECONDS + OUTAGE[1])
    with tempfile.TemporaryDirectory(prefix="browser-", ignore_cleanup_errors=True) as folder:
        browser = Browser(Path(folder), entering=namespace.entering)
        network = None
        try:
            await until(link, lambda: link.url)
            port = int(link.url.split(":")[2].split("/")[0])
            network = Forwarder(("127.0.0.1", port), up=up, down=down, seed=7)
            await network.start(sock=namespace.listen(port))
            await browser.start()
            phones = []
            for ppm, socket in zip(PPM, SOCKETS, strict=True):
                phones.append(BrowserPhone(browser, ppm=ppm, socket=socket))
                before = link.url
                await phones[-1].open(before)
                await until(link, lambda before=before: link.url != before)  # type: ignore[misc]
            names = [f"phone {k}" for k in range(len(phones))]
            for asks, name in zip(sorted(link.unconfirmed, key=lambda each: each.number), names, strict=True):
                link.confirm(asks.number, name=name, roles=("count", "tap", "worn"), fields=plan.hands)
            for phone in phones:
                await phone.wait_for("!document.getElementById('worn').hidden")
                await phone.press("sense")
            await until(link, lambda: link.half_width < 1)
            swaps = await _watch(browser, phones[1])
            spent, began = cpu_of(link.process_id), perf_counter()
            network._outages, network._began = (outage,), perf_counter()
            beats = await _move(link, plan, phones, outage[0] + RELOAD)
            end = perf_counter()
            link.end(end)
            if not await until(link, lambda: (got := link.collected()) is not None and got.complete, seconds=120):
                raise RuntimeError("the machine is too busy: what the phones noticed did not come within two minutes")
            share = (cpu_of(link.process_id) - spent) / (perf_counter() - began)
            noted = [await phone.noted() for phone in phones]
            found = link.collected_of(names) or {}
        finally:
            await browser.close()
            link.close()
            if network is not None:
                await network.stop()
            namespace.close()
    shown = [
        _compare(phone.by_socket, each, found.get(name, Collected()), beats, (began, end), reloaded=k in RELOADED)
        for k, (phone, name, each) in enumerate(zip(phones, names, noted, strict=True))
    ]
    return shown, _in_time(noted[1], swaps, beats), share


async def _watch(browser: Browser, phone: BrowserPhone) -> list[float]:
    """Let the browser tell when it swapped each new picture of a phone in, on our clock."""
    swaps: list[float] = []
    acknowledged: set[asyncio.Task[object]] = set()
    ours = perf_counter() - time()

    async def acknowledge(picture: int) -> None:
        with suppress(RuntimeError, TimeoutError):  # the last ones are answered when the browser is closing
            await phone.call("Page.screencastFrameAck", sessionId=picture)

    def hear(told: dict[str, Any]) -> None:
        if told.get("method") == "Page.screencastFrame":
            swaps.append(told["params"]["metadata"]["timestamp"] + ours)
            task = asyncio.ensure_future(acknowledge(told["params"]["sessionId"]))
            acknowledged.add(task)
            task.add_done_callback(acknowledged.discard)

    browser.heard.append(hear)
    await phone.call("Page.startScreencast", format="jpeg", quality=10, maxWidth=100, maxHeight=200, everyNthFrame=1)
    return swaps


async def _move(link: Phones, plan: Plan, phones: list[BrowserPhone], reload_at: float) -> list[float]:
    """Touch, move and load anew for a take; the times of its counts."""
    begun = perf_counter()
    shown = [(1.0 + COUNT * k, str(k % 8 + 1), 1 + k // 8, "mills") for k in range(int((SECONDS - 1) / COUNT))]
    link.begin(plan, begun, shown)
    link.show({"playing": True, "zero": begun, "word": "steady"})

    def is_open(k: int) -> bool:
        return k not in RELOADED or loaded[k].is_set() or perf_counter() < begun + reload_at - 0.5

    async def touch(k: int) -> None:
        rng = np.random.default_rng(k)
        while perf_counter() < begun + SECONDS:
            await asyncio.sleep(float(rng.uniform(0.7, 1.3)) / TAPS_HZ)
            if is_open(k):
                # a touch that the handler comes to late, as on a page that is busy
                await phones[k].touch(at=perf_counter() - float(rng.uniform(0, 0.03)))

    async def load(k: int) -> None:
        await asyncio.sleep(reload_at)
        await phones[k].reload()
        await phones[k].wait_for("!document.getElementById('worn').hidden")
        await phones[k].press("sense")
        loaded[k].set()

    async def swing() -> None:
        step = 0
        while (now := perf_counter()) < begun + SECONDS:
            turn = 2 * np.pi * (now - begun)
            for k, phone in enumerate(phones):
                if is_open(k):
                    await phone.move((STEP * step, 3 * np.sin(turn), 9.8), (0.0, 0.0, 6.3))
            link.poll()
            step += 1
            await asyncio.sleep(max(begun + step / MOVES_HZ - perf_counter(), 0.001))

    loaded = {k: asyncio.Event() for k in RELOADED}
    await asyncio.gather(swing(), *map(touch, range(len(phones))), *map(load, RELOADED))
    return [begun + at for at, *_ in shown]


def _compare(
    socket: bool, noted: Noted, found: Collected, beats: list[float], span: tuple[float, float], *, reloaded: bool
) -> Shown:
    taps, true = np.sort([stamp for stamp, _ in found.onsets]), np.sort(noted.touches)
    errors = taps - true if taps.size == true.size else np.array([np.inf])
    moved, missing, more = _count(noted.readings, [row for rows in found.readings.values() for row in rows], span)
    late, never = [], 0
    for due in beats:
        near = [at - due for at, text in noted.beats if text and abs(at - due) < COUNT / 2]
        if near:
            late.append(near[0])
        elif not reloaded:
            never += 1
    # a picture is seen a frame after it is drawn
    return Shown(
        socket, errors, abs(taps.size - true.size), moved, missing, more, np.array(late) + FRAME, never,
        found.half_width,
    )  # fmt: skip


def _count(
    noted: Sequence[Sequence[float]], found: Sequence[Sequence[float]], span: tuple[float, float]
) -> tuple[int, int, int]:
    """How many readings were noticed within a take, how many of them are missing, and how many are there twice.

    By the position of the sensors that each tells, whenever it is said to have been.
    """
    inside = Counter(round(value / STEP) for at, value in noted if span[0] + EDGE < at < span[1] - EDGE)
    edges = {round(value / STEP) for at, value in noted if not span[0] + EDGE < at < span[1] - EDGE}
    mine = Counter({position: number for position, number in inside.items() if position not in edges})
    there = Counter(round(value / STEP) for _, value, *_ in found)
    there = Counter({position: number for position, number in there.items() if position in mine})
    return mine.total(), (mine - there).total(), (there - mine).total()


def _in_time(noted: Noted, swaps: list[float], beats: list[float]) -> float:
    """The share of the counts whose picture was swapped in within a frame of its time."""
    at, right = np.array(swaps), []
    for drawn, text in noted.beats:
        due = min(beats, key=lambda due: abs(due - drawn))
        after = at[at > drawn + 0.001]
        if text and after.size:
            right.append(abs(float(after[0]) - due) <= FRAME)
    return float(np.mean(right))
