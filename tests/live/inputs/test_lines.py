"""Lines of another program: onsets with the sender's own time, readings, and whatever else a cable carries."""

from __future__ import annotations

import math
import os
from time import perf_counter, sleep
from typing import TYPE_CHECKING

import numpy as np
import pytest

from tempo_coach import coach
from tempo_coach.coach.practising.sources import open_lines
from tempo_coach.live.inputs.arriving import SenderClock
from tempo_coach.live.inputs.lines import LONGEST, LineReader, read_line
from tempo_coach.live.inputs.source import SourceOnset
from tempo_coach.live.notices import Code, Notice
from tests import HANG
from tests.refused import refused

if TYPE_CHECKING:
    from pathlib import Path

PLAN = coach.lay(coach.Request("clubs_mills", tempo_bpm=120, cycles=8))
BOTH = ("right", "left")


def heard(reader: LineReader, number: int) -> list[object]:
    news: list[object] = []
    end = perf_counter() + HANG
    while len(news) < number and perf_counter() < end:
        news += reader.poll()
        sleep(0.01)
    return news


def test_lines_are_onsets_and_readings_at_the_senders_own_times() -> None:
    read, write = os.pipe()
    reader = LineReader(read)
    try:
        reader.begin(PLAN, perf_counter() + 1.0)
        os.write(write, b"7.000,right\n7.250,LEFT\n7.300,left,0,0,9.8,0,")
        os.write(write, b"0,1\nhello\n7.5,nobody\n,right\n")
        news = heard(reader, 4)
        onsets = [each for each in news if isinstance(each, SourceOnset)]
        assert [each.hand for each in onsets] == ["right", "left", "right"]
        assert [each for each in news if isinstance(each, Notice)] == [Notice(Code.LINES_UNREAD)]
        os.close(write)
        assert heard(reader, 1) == [Notice(Code.LINES_OVER)]
        found = reader.collected()
        (first, _), (second, _), _ = found.onsets
        assert second - first == pytest.approx(0.25, abs=1e-9)
        assert found.readings["left"][0][0] - first == pytest.approx(0.3, abs=1e-9)
        assert found.readings["left"][0][1:] == [0, 0, 9.8, 0, 0, 1]
    finally:
        reader.close()


def test_a_senders_clock_is_that_of_the_lines_that_took_least() -> None:
    """Lines late by 2 ms and an exponential of 15 ms, a clock 50 ppm fast: all but the 2 ms is taken out."""
    rng = np.random.default_rng(4)
    clock = SenderClock()
    true = np.arange(0.0, 60.0, 0.02)
    sent = 5000.0 + true * (1 + 50e-6)
    for each, arrived in zip(sent, true + 0.002 + rng.exponential(0.015, true.size), strict=True):
        clock.add(float(each), float(arrived))
    off = np.array(clock.put(sent.tolist())) - true - 0.002
    assert np.abs(off).max() < 0.002 and abs(float(np.median(off))) < 0.0012


def test_a_clock_that_jumps_has_no_rate_and_few_lines_have_the_least() -> None:
    clock = SenderClock()
    for sent, arrived in ((1.0, 11.004), (1.5, 11.5)):
        clock.add(sent, arrived)
    assert clock.put([1.0, 2.0]).tolist() == pytest.approx([11.0, 12.0])
    assert SenderClock().put([3.0]).tolist() == [3.0]
    for k in range(20):
        clock.add(k * 3.0, 20.0 + k)
    assert all(map(math.isfinite, clock.put([1.0])))
    still = SenderClock()
    for k in range(20):  # a sender without a clock says the same time always
        still.add(7.0, 20.0 + k)
    assert still.put([7.0]) == pytest.approx([20.0])


@pytest.mark.parametrize(
    "line",
    [b"", b"1", b"x,left", b"1,left,2", b"1,both", b"inf,left", b"1,left,nan,0,0,0,0,0", b"1,left" + b" " * LONGEST],
)
def test_what_is_none_of_ours_is_left_out(line: bytes) -> None:
    assert read_line(line, BOTH) is None


def test_a_pipe_is_read_and_a_file_is_refused(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe")
    reader = open_lines(str(tmp_path / "pipe"))
    reader.begin(PLAN, perf_counter())
    with (tmp_path / "pipe").open("w") as writer:
        writer.write("1.0,left\n")
    (onset,) = heard(reader, 1)
    assert isinstance(onset, SourceOnset) and onset.hand == "left"
    reader.close()
    (tmp_path / "table.csv").write_text("1.0,left\n")
    with refused("expected something that prints while she moves, found a file"):
        open_lines(str(tmp_path / "table.csv"))
    with refused("it cannot be read"):
        open_lines(str(tmp_path / "nothing"))
