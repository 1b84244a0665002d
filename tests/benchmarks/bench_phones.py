"""Five phones on three kinds of networks, by a socket and by requests: rows, clocks, backlog, what the server costs.

The phones are simulated (``tests.generators.phones``: the page's protocol, a clock of their own), the network is a
forwarder with delay, jitter, loss and ten seconds of outage; both run in one process beside the server's, so that the
machine's load is in the figures. No real phone and no browser is in them.
"""

from __future__ import annotations

import asyncio
import os
from pathlib import Path
from time import perf_counter
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from tempo_coach import coach
from tempo_coach.coach.practising.sensed import OnTakeClock, judge_sensed
from tempo_coach.errors import CoachError
from tempo_coach.live.inputs.source import Collected
from tempo_coach.live.phones.link import Phones
from tests.benchmarks.table import Row
from tests.generators.movement import Phase, sensor
from tests.generators.network import Forwarder, Way
from tests.generators.phones import SimulatedPhone

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

#: Seconds of a take, and its outage; taps a second and readings a second of each phone.
SECONDS, OUTAGE = 60.0, (25.0, 35.0)
TAPS_HZ, READINGS_HZ = 2.0, 60.0
#: Deviations of the phones' clocks, and which of them talk by a socket: the others by requests.
PPM, SOCKETS = (-50.0, -10.0, 10.0, 30.0, 50.0), (True, True, True, False, False)
#: The ways up and down of each kind of network; the floor and the aim of the error of a tap in ms.
NETWORKS = {
    "5 ± 3 ms": (Way(0.005, 0.003), Way(0.005, 0.003), 1.0, 1.0),
    "20 ± 15 ms, 2 % lost": (Way(0.02, 0.015, loss=0.02), Way(0.02, 0.015, loss=0.02), 5.0, 3.0),
    "tails up alone": (Way(0.004, 0.001, tail=0.03), Way(0.004, 0.001, tail=0.002), 5.0, 2.0),
}
#: Takes of a worn sensor.
WORN = 40


class Talked(NamedTuple):
    """What came of one phone: errors of its taps in s, taps and readings lost or doubled, bound and backlog in s."""

    socket: bool
    errors: np.ndarray
    wrong_taps: int
    lost_readings: int
    readings: int
    bound: float
    backlog: float


def run() -> Iterator[Row]:
    """Measure everything."""
    cost, lost, of = 0.0, 0, 0
    for name, (up, down, floor, aim) in NETWORKS.items():
        talked, share = asyncio.run(_talk(up, down, seed=len(name)))
        cost = max(cost, share)
        lost, of = lost + sum(t.lost_readings for t in talked), of + sum(t.readings for t in talked)
        for way, socket in (("socket", True), ("requests", False)):
            mine = [t for t in talked if t.socket is socket]
            yield Row(f"{name}, {way}: taps lost or doubled", sum(t.wrong_taps for t in mine), "", 0)
            errors = [1000 * float(np.quantile(np.abs(t.errors), 0.95)) for t in mine if t.errors.size]
            yield Row(f"{name}, {way}: error of 95 % of taps, worst phone", max(errors), "ms", floor, aim)
            above = sum(int((np.abs(t.errors) > t.bound).sum()) for t in mine)
            yield Row(f"{name}, {way}: taps beyond the stated bound", above, "", 0)
            yield Row(f"{name}, {way}: widest bound", 1000 * max(t.bound for t in mine), "ms")
            yield Row(f"{name}, {way}: backlog after 10 s of outage", max(t.backlog for t in mine), "s", 2)
    yield Row(f"readings lost, of {of}", lost, "", 0)
    yield Row("the server's share of a core, at the most", 100 * cost, "%", 10)
    yield from _worn()


async def until(link: Phones, seen: Callable[[], object], *, seconds: float = 30.0) -> bool:
    end = perf_counter() + seconds
    while not seen() and perf_counter() < end:
        link.poll()
        await asyncio.sleep(0.02)
    return bool(seen())


async def _talk(up: Way, down: Way, *, seed: int) -> tuple[list[Talked], float]:
    plan = coach.lay(coach.Request("clubs_mills", tempo_bpm=120, cycles=8, hand="right"))
    link = Phones("127.0.0.1", 0, members=True)
    try:
        await until(link, lambda: link.url)
        port = int(link.url.split(":")[2].split("/")[0])
        networks, phones, tasks = [], [], []
        for k, (ppm, socket) in enumerate(zip(PPM, SOCKETS, strict=True)):
            networks.append(Forwarder(("127.0.0.1", port), up=up, down=down, seed=10 * seed + k))
            await networks[-1].start()
            before = link.url
            phones.append(SimulatedPhone(before, port=networks[-1].port, socket=socket, ppm=ppm, offset=100.0 * k))
            tasks.append(asyncio.create_task(phones[-1].run()))
            await until(link, lambda before=before: link.url != before)
        names = [f"phone {k}" for k in range(len(phones))]
        for asks, name in zip(sorted(link.unconfirmed, key=lambda each: each.number), names, strict=True):
            link.confirm(asks.number, name=name, roles=("tap", "worn"), fields=plan.hands)
        await until(link, lambda: all(phone.state.get("confirmed") for phone in phones))
        await until(link, lambda: np.isfinite(link.half_width))
        for network in networks:
            network._outages, network._began = (OUTAGE,), perf_counter()
        spent, began = cpu_of(link.process_id), perf_counter()
        true, backlogs = await _move(link, plan, phones)
        link.end(perf_counter())
        await until(link, lambda: (found := link.collected()) is not None and found.complete)
        share = (cpu_of(link.process_id) - spent) / (perf_counter() - began)
        found = link.collected_of(names) or {}
        for task in tasks:
            task.cancel()
        await asyncio.gather(*tasks, return_exceptions=True)
        for network in networks:
            await network.stop()
    finally:
        link.close()
    talked = []
    for name, mine, phone, backlog in zip(names, true, phones, backlogs, strict=True):
        each = found.get(name, Collected())
        stamps = np.array([stamp for stamp, _ in each.onsets])
        readings = sum(map(len, each.readings.values()))
        sent = sum(row[1] == 1 for row in phone.rows)
        same = len(stamps) == len(mine)
        errors = np.sort(stamps) - np.array(mine) if same else np.array([np.inf])
        talked.append(
            Talked(
                phone.by_socket, errors, abs(len(stamps) - len(mine)), sent - readings, sent, each.half_width, backlog
            )
        )
    return talked, share


async def _move(link: Phones, plan: object, phones: list[SimulatedPhone]) -> tuple[list[list[float]], list[float]]:
    """Let the phones tap and measure for a take; return when they really did, and how long the backlogs took."""
    begun = perf_counter()
    link.begin(plan, begun)  # type: ignore[arg-type]
    true: list[list[float]] = [[] for _ in phones]
    backlogs, held = [np.nan] * len(phones), [0] * len(phones)
    rng = np.random.default_rng(7)
    next_tap = [begun + float(rng.uniform(0.2, 0.7)) for _ in phones]
    step = 0
    while (now := perf_counter()) < begun + SECONDS:
        for k, phone in enumerate(phones):
            phone.add(1, 0.0, 0.0, 9.8, 0.0, 0.0, 1.0, ours=now)
            if now >= next_tap[k]:
                true[k].append(now)
                phone.add(0, 0, ours=now)
                next_tap[k] = now + float(rng.uniform(0.7, 1.3)) / TAPS_HZ
            if now < begun + OUTAGE[1]:
                held[k] = len(phone.rows)
            elif np.isnan(backlogs[k]) and phone.next >= held[k]:
                backlogs[k] = now - begun - OUTAGE[1]
        link.poll()
        step += 1
        await asyncio.sleep(max(begun + step / READINGS_HZ - perf_counter(), 0.001))
    return true, [SECONDS if np.isnan(each) else each for each in backlogs]


def cpu_of(process: int) -> float:
    """Return the seconds that a process has computed."""
    fields = Path(f"/proc/{process}/stat").read_text(encoding="ascii").rsplit(")", 1)[1].split()
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


def _worn() -> Iterator[Row]:
    """A phone at the end of a circling forearm, 60 readings a second, each up to a step old."""
    plan = coach.lay(coach.Request("clubs_mills", tempo_bpm=100, cycles=24, hand="right"))
    anchors, period = plan.moments.time, float(np.diff(plan.moments.time).mean())
    counted, errors = 0, []
    for seed in range(WORN):
        rng = np.random.default_rng([seed, 5])
        moved = 0.015 * rng.standard_normal(anchors.size)
        at = np.arange(0, anchors[-1] + 2.0, 1 / READINGS_HZ)
        trace = sensor(seed, Phase(anchors + moved), at - rng.uniform(0, 0.99 / READINGS_HZ, at.size))
        rows = np.column_stack([at, np.asarray(trace.values)])
        placed = OnTakeClock([], {plan.hands[0]: rows})
        found = Collected(half_width=0.003)
        try:
            take = judge_sensed(found, placed, plan, observed_by="worn phone", stopped=None).take
        except CoachError:
            continue
        times = take.onsets.time
        counted += abs(times.size - anchors.size) <= 1
        n = min(times.size, anchors.size)
        errors.append(np.diff(times[:n]) - np.diff((anchors + moved)[:n]))
    each = np.concatenate(errors)
    yield Row("worn: takes in which cycles are counted right", 100 * counted / WORN, "%", 95, 98, "high")
    yield Row("worn: SD of a period's error", 1000 * float(np.std(each)), "ms", 8)
    worst = max(float(np.std(one)) for one in errors)
    yield Row("worn: the same in the worst take", 1000 * worst, "ms")
    yield Row("worn: of a period of", 1000 * period, "ms")
