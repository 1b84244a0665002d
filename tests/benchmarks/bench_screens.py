"""The screens: when the first picture is there, what one picture costs, and how long an onset waits for the disk."""

from __future__ import annotations

import os
import statistics
import tempfile
import time
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from tests.benchmarks.table import Row

if TYPE_CHECKING:
    from collections.abc import Iterator

FIRST_PICTURES = 5
PICTURES = 300


def run() -> Iterator[Row]:
    """Return the figures."""
    yield from _first_picture()
    yield from _one_picture()
    yield from _to_disk()


def _first_picture() -> Iterator[Row]:
    from tests.ui.test_terminal import Terminal

    for what, arguments, sign in (
        ("set-up: start to first picture, median of 5", (), b"observed by"),
        (
            "practise: start to first picture, median of 5",
            ("practise", "clubs_mills", "--device", "none"),
            b"press the key",
        ),
    ):
        waits = []
        for _ in range(FIRST_PICTURES):
            with tempfile.TemporaryDirectory() as folder:
                begin = time.perf_counter()
                terminal = Terminal(*arguments, XDG_DATA_HOME=folder)
                while sign not in terminal.drawn:
                    terminal.read(0.01)
                waits.append(time.perf_counter() - begin)
                terminal.press(b"\x11")
                terminal.end()
        yield Row(what, statistics.median(waits), "s", floor=0.8)


def _one_picture() -> Iterator[Row]:
    from tempo_coach.coach.practising.movement import Movement
    from tempo_coach.coach.practising.picture import make_picture
    from tempo_coach.live.practice.course import begin
    from tempo_coach.live.practice.session import Stage
    from tempo_coach.ui.palette import Palette
    from tempo_coach.ui.practice.practice_card import draw_practice_card
    from tests.ui.fakes import lay

    plan = lay("clubs_mills_carried", cycles=60)
    movement = Movement(plan)
    session, _ = begin(plan, stamp=0.0, keys="jf")
    session = replace(session, stage=Stage.PLAYING)
    waits = []
    for k in range(PICTURES):
        start = time.perf_counter()
        picture = make_picture(replace(session, position=plan.start + k / 15), movement)
        draw_practice_card(picture, movement, width=100, height=30, palette=Palette())
        waits.append(time.perf_counter() - start)
    yield Row("one picture at 100x30, made and drawn, median", 1000 * statistics.median(waits), "ms", aim=5.0)
    yield Row("the slowest of 300", 1000 * max(waits), "ms")


def _to_disk() -> Iterator[Row]:
    from tempo_coach.observe.take import take_writer
    from tests.observe.take.test_take_file import writer

    brought: list[float] = []
    real = os.fsync

    def sync(file: int) -> None:
        real(file)
        brought.append(time.perf_counter())

    take_writer.os.fsync = sync
    try:
        with tempfile.TemporaryDirectory() as folder:
            out = writer(Path(folder) / "a")
            waits = []
            for k in range(40):
                time.sleep(0.041)
                begin = time.perf_counter()
                out.onset("right", stamp=float(k), time=float(k))
                while not brought or brought[-1] < begin:
                    time.sleep(0.001)
                waits.append(time.perf_counter() - begin)
            out.close()
    finally:
        take_writer.os.fsync = real
    yield Row("an onset is on the disk, slowest of 40", max(waits), "s", floor=0.2)
