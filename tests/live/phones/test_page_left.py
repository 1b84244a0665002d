"""A page in a real browser that is left again and again while nothing gets through: what it noticed comes later."""

import asyncio
import tempfile
from pathlib import Path
from time import perf_counter

import pytest

from tempo_coach import coach
from tempo_coach.live.phones.link import Phones
from tests.generators.browser import Browser, BrowserPhone, find_browser

pytestmark = pytest.mark.skipif(find_browser() is None, reason="no Chromium (Debian: apt-get install chromium)")

#: A browser that keeps no database, as in a private window, and whose requests fail while this is wanted.
NOTHING_GETS_THROUGH = """
Object.defineProperty(window, "indexedDB", { value: undefined });
if (localStorage.getItem("cut")) window.fetch = () => Promise.reject(new Error("cut"));
"""


async def until(link: Phones, seen, seconds: float = 60.0) -> bool:
    end = perf_counter() + seconds
    while not seen() and perf_counter() < end:
        link.poll()
        await asyncio.sleep(0.02)
    return bool(seen())


async def tap_and_leave(folder: Path) -> tuple[int, float]:
    """Tap three times and load the page anew twice, without a network; how many taps came, and how far from theirs."""
    link, browser = Phones("127.0.0.1", 0), Browser(folder)
    plan = coach.lay(coach.Request("clubs_mills", tempo_bpm=120, cycles=8, hand="right"))
    try:
        assert await until(link, lambda: link.url)
        await browser.start()
        phone = BrowserPhone(browser, socket=False)
        phone._script += NOTHING_GETS_THROUGH
        await phone.open(link.url)
        assert await until(link, lambda: link.unconfirmed)
        link.confirm(link.unconfirmed[0].number, name="Ada", roles=("tap",), fields=plan.hands)
        assert await phone.wait_for("!document.getElementById('tap').hidden")
        assert await until(link, lambda: link.half_width < 1)
        link.begin(plan, perf_counter(), ())
        await asyncio.sleep(0.3)
        await phone.value("localStorage.setItem('cut', '1'); window.fetch = () => Promise.reject(new Error('cut')); 0")
        for _ in range(3):
            await phone.touch()
        await phone.reload()
        await asyncio.sleep(0.3)
        await phone.value("localStorage.removeItem('cut'); 0")
        await phone.reload()
        link.end(perf_counter())
        assert await until(link, lambda: (got := link.collected()) is not None and got.complete)
        onsets = [stamp for stamp, _ in link.collected().onsets]
        touches = (await phone.noted()).touches
        return len(onsets), max(abs(a - b) for a, b in zip(sorted(onsets), sorted(touches), strict=True))
    finally:
        await browser.close()
        link.close()


def test_what_was_noticed_outlives_two_openings_that_reached_nobody():
    with tempfile.TemporaryDirectory(prefix="browser-", ignore_cleanup_errors=True) as folder:
        came, off = asyncio.run(tap_and_leave(Path(folder)))
    assert came == 3 and off < 0.1
