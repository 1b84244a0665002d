"""The program's side: a real server process, phones behind a bad network, and an end that leaves nothing behind."""

from __future__ import annotations

import asyncio
import errno
import os
import signal
import socket
import subprocess
import sys
import time
from dataclasses import replace
from time import perf_counter

import numpy as np
import pytest

pytest.importorskip("aiohttp")
pytest.importorskip("cryptography")

from tempo_coach import coach
from tempo_coach.live.inputs.source import SourceOnset
from tempo_coach.live.notices import Code
from tempo_coach.live.phones.joined import JoinedPhone
from tempo_coach.live.phones.link import Phones
from tests import HANG
from tests.generators.network import Forwarder, Way
from tests.generators.phones import SimulatedPhone

PLAN = coach.lay(coach.Request("clubs_mills", tempo_bpm=120, cycles=8))
ROUGH = Way(0.02, 0.015, loss=0.02)


async def until(link: Phones, seen) -> None:
    end = perf_counter() + HANG
    while not seen():
        link.poll()
        assert perf_counter() < end
        await asyncio.sleep(0.01)


def test_nothing_is_lost_or_doubled_over_an_outage_by_either_way():
    async def check() -> None:
        link = Phones("127.0.0.1", 0)
        try:
            await until(link, lambda: link.url)
            port = int(link.url.split(":")[2].split("/")[0])
            network = Forwarder(("127.0.0.1", port), up=ROUGH, down=ROUGH, seed=4, outages=((2.0, 3.5),))
            await network.start()
            phones, tasks = [], []
            for by_socket in (True, False):
                before = link.url
                phones.append(SimulatedPhone(before, port=network.port, socket=by_socket, ppm=40.0, offset=77.0))
                tasks.append(asyncio.create_task(phones[-1].run()))
                await until(link, lambda before=before: link.url != before)
            for asks, hand in zip(link.unconfirmed, PLAN.hands, strict=True):
                link.confirm(asks.number, name="Ada", roles=("tap", "worn"), fields=(hand,))
            await until(link, lambda: all(phone.state.get("confirmed") for phone in phones))
            await until(link, lambda: np.isfinite(link.half_width))
            link.begin(PLAN, perf_counter())
            true, live, readings = [], [], 0
            for _ in range(60):
                for hand, phone in zip(PLAN.hands, phones, strict=True):
                    true.append((perf_counter(), hand))
                    phone.add(0, 0, ours=true[-1][0])
                    phone.add(1, 0, 0, 9.8, 0, 0, 1, ours=true[-1][0])
                live += [news for news in link.poll() if isinstance(news, SourceOnset)]
                readings += sum(map(len, link.readings().values()))
                await asyncio.sleep(0.05)
            link.end(perf_counter())
            await until(link, lambda: link.collected() and link.collected().complete)
            found = link.collected()
            mine, asked = (
                np.array([[t for t, hand in each if hand == one] for one in PLAN.hands])
                for each in (found.onsets, true)
            )
            errors = np.abs(mine - asked)  # as many of each hand, each within the bound
            assert errors.max() <= found.half_width and sum(map(len, found.readings.values())) == len(true)
            assert 0 < readings <= len(true), "while it runs, each once"
            assert live and link.observed_by == "phone" and found.noise_floor_ms == pytest.approx(4.81, abs=0.01)
            for task in tasks:
                task.cancel()
            await asyncio.gather(*tasks, return_exceptions=True)
            await network.stop()
        finally:
            link.close()
        assert not is_there(link.process_id)

    asyncio.run(check())


def test_one_hand_of_one_person_has_one_phone_and_whoever_takes_its_place_is_not_taken_for_it():
    link = Phones("127.0.0.1", 0, latency_of=lambda _: 0.02)
    told: list[tuple[str, int]] = []
    link._order = lambda what, **values: told.append((what, values.get("phone")))
    try:
        link.phones = {k: JoinedPhone(k, str(40 + k)) for k in (1, 2, 3, 4, 5)}
        link.confirm(1, name="Ada", roles=("tap",), fields=("right",))
        link.confirm(2, name="Ada", roles=("tap",), fields=("left",))
        link.confirm(3, name="Ada", roles=("count", "remote"), fields=())
        assert [each[0] for each in told] == ["confirm"] * 3, "two of one name, of two hands"
        again = replace(link.phones[4], name="Ada", roles=("tap",), fields=("right",))
        assert [each.number for each in link.rivals(again)] == [1]
        link.confirm(4, name="Ada", roles=("tap",), fields=("right",))
        assert told[-2:] == [("refuse", 1), ("confirm", 4)] and set(link.phones) == {2, 3, 4, 5}
        assert link._late(4, "Ada") is None and link._late(2, "Ada") == 0.02, "its delay is not the other's"
        worn = replace(link.phones[5], name="Bea", roles=("worn",), fields=("right",))
        assert len(link.rivals(worn)) == 2, "one take is tapped or worn"
        # the page of one was closed, and the code scanned again: it is the same phone
        link.phones[6] = JoinedPhone(6, "66", before=2)
        link.confirm(6, name="Ada", roles=("tap",), fields=("left",))
        assert 2 not in link.phones and link._late(6, "Ada") == 0.02
        link._members = True
        assert not link.rivals(worn), "each has a take of her own"
    finally:
        link.close()


def is_there(process: int) -> bool:
    try:
        os.kill(process, 0)
    except ProcessLookupError:
        return False
    return True


def test_the_server_ends_when_the_program_is_killed():
    words = "import time; from tempo_coach.live.phones.link import Phones; p = Phones('127.0.0.1', 0)\n"
    words += "print(p.process_id, flush=True); time.sleep(1000)"
    with subprocess.Popen([sys.executable, "-c", words], stdout=subprocess.PIPE, text=True) as program:
        server = int(program.stdout.readline())
        assert is_there(server)
        program.send_signal(signal.SIGKILL)
    end = perf_counter() + HANG
    while is_there(server) and _state(server) != "Z":
        assert perf_counter() < end
        time.sleep(0.02)


def _state(process: int) -> str:
    """What the system says of a process; one whose parent is gone and whom nobody has waited for is a zombie."""
    try:
        with open(f"/proc/{process}/stat", encoding="ascii") as file:  # noqa: PTH123
            return file.read().rsplit(")", 1)[1].split()[0]
    except OSError:
        return "Z"


def test_a_port_that_is_taken_is_said():
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        link = Phones("127.0.0.1", taken.getsockname()[1])
        try:
            asyncio.run(until(link, lambda: link.trouble))
            assert link.trouble.code is Code.PHONES_REFUSED and link.trouble.arguments[1] == errno.EADDRINUSE
        finally:
            link.close()
