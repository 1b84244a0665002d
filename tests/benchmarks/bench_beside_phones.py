"""Sound and keys of a practice beside five phones that tap and measure, and without them.

The sound is heard by a recorder on a server of the benchmark's own, sample by sample, as in ``bench_busy``. The phones
are simulated and talk to a real server; both compute on this machine, which in a gym only the server does.
``TEMPO_COACH_BUSY_TAKES`` is the number of takes of each row.
"""

from __future__ import annotations

import asyncio
import os
import subprocess
import sys
import tempfile
from pathlib import Path
from time import perf_counter
from typing import TYPE_CHECKING

from tempo_coach import coach
from tempo_coach.live.audio.engine import Engine
from tempo_coach.live.phones.link import Phones
from tests.benchmarks.bench_busy import KEYS, SECONDS, TAKES, play_numbers
from tests.benchmarks.bench_live import stamp_keys
from tests.benchmarks.bench_phones import READINGS_HZ, TAPS_HZ, until
from tests.benchmarks.table import Row
from tests.generators.phones import SimulatedPhone
from tests.live.sound_server import SoundServer, missing_part

if TYPE_CHECKING:
    from collections.abc import Iterator

    import numpy as np

PHONES = 5
#: ms by which the spread of keys' stamps may be wider beside phones.
WIDER = 0.1


def run() -> Iterator[Row]:
    """Return the figures."""
    missing = missing_part()
    if missing:
        yield Row(f"not measured: {missing}", float("nan"))
        return
    with tempfile.TemporaryDirectory(prefix="beside-") as name:
        folder = Path(name)
        server = SoundServer(folder)
        os.environ.update(server.environment)
        server.start()
        try:
            alone, lost = _measure(folder, server)
            yield Row("without phones: SD of keys' stamps", float(alone.std(ddof=1)), "ms")
            yield Row(f"  losses of sound in {TAKES} takes of {SECONDS:g} s", lost)
            talking = subprocess.Popen(
                [sys.executable, "-m", __name__], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
            )
            try:
                assert talking.stdout is not None
                assert talking.stdout.readline() == "talking\n"
                beside, lost = _measure(folder, server)
                told = talking.communicate("")[0]
            finally:
                talking.kill()
                talking.wait()
        finally:
            server.kill()
    yield Row(f"beside {PHONES} phones: SD of keys' stamps", float(beside.std(ddof=1)), "ms")
    yield Row("  wider than without", float(beside.std(ddof=1) - alone.std(ddof=1)), "ms", WIDER)
    yield Row(f"  losses of sound in {TAKES} takes of {SECONDS:g} s", lost, "", 0)
    came, sent = map(int, told.split())
    yield Row(f"  rows of the phones lost or doubled, of {sent}", abs(sent - came), "", 0)


def _measure(folder: Path, server: SoundServer) -> tuple[np.ndarray, int]:
    """Return how late keys were stamped, in ms, and how often sound was lost."""
    engine = Engine(folder=folder)
    try:
        late = stamp_keys(KEYS)
        return late, sum(len(play_numbers(engine, server)[0]) for _ in range(TAKES))
    finally:
        engine.close()


async def _talk() -> None:
    """Let phones tap and measure until the input ends; print how many rows came, and how many were sent."""
    link = Phones("127.0.0.1", 0, members=True)
    plan = coach.lay(coach.Request("clubs_mills", tempo_bpm=120, cycles=8, hand="right"))
    phones, tasks, names = [], [], [f"phone {k}" for k in range(PHONES)]
    try:
        await until(link, lambda: link.url)
        for name in names:
            url = link.url
            phones.append(SimulatedPhone(url))
            tasks.append(asyncio.create_task(phones[-1].run()))
            await until(link, lambda url=url: link.url != url and link.unconfirmed)
            link.confirm(link.unconfirmed[0].number, name=name, roles=("tap", "worn"), fields=plan.hands)
        await until(link, lambda: all(phone.state.get("confirmed") for phone in phones) and link.half_width < 1)
        begun = perf_counter()
        link.begin(plan, begun)
        print("talking", flush=True)
        over = asyncio.get_running_loop().run_in_executor(None, sys.stdin.read)
        step = 0
        while not over.done():
            for k, phone in enumerate(phones):
                phone.add(1, 0.0, 0.0, 9.8, 0.0, 0.0, 1.0)
                if (step + 7 * k) % int(READINGS_HZ / TAPS_HZ) == 0:
                    phone.add(0, 0)
            link.poll()
            step += 1
            await asyncio.sleep(max(begun + step / READINGS_HZ - perf_counter(), 0.001))
        link.end(perf_counter())
        await until(link, lambda: (found := link.collected()) is not None and found.complete)
        found = (link.collected_of(names) or {}).values()
        print(sum(len(each.onsets) + sum(map(len, each.readings.values())) for each in found), end=" ")
        print(sum(len(phone.rows) for phone in phones), flush=True)
    finally:
        # a phone that is just being answered may miss that it is to end (asyncio.wait_for of Python 3.11)
        while any(not task.done() for task in tasks):
            for task in tasks:
                task.cancel()
            await asyncio.wait(tasks, timeout=1.0)
        link.close()


if __name__ == "__main__":
    asyncio.run(_talk())
