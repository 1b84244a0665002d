"""Lab Streaming Layer on this machine alone: what an outlet of the library sends is taken with its own time."""

import os
from time import perf_counter, sleep

import pytest

pylsl = pytest.importorskip("pylsl")

from tempo_coach import coach  # noqa: E402
from tempo_coach.coach.practising.sources import open_lsl  # noqa: E402
from tempo_coach.live.inputs.lsl import read_sample  # noqa: E402
from tests import HANG  # noqa: E402
from tests.refused import refused  # noqa: E402

PLAN = coach.lay(coach.Request("clubs_mills", tempo_bpm=120, cycles=8))


def test_samples_are_onsets_at_the_time_that_their_sender_gave_them():
    name = f"button {os.getpid()}"
    outlet = pylsl.StreamOutlet(pylsl.StreamInfo(name, "Markers", 1, pylsl.IRREGULAR_RATE, "string", name))
    reader = open_lsl(name)
    try:
        assert outlet.wait_for_consumers(HANG)
        reader.begin(PLAN, perf_counter())
        stamps = []
        for hand in ("right", "nobody", "Left"):
            stamps.append(perf_counter() - 0.5)  # it was half a second on its way
            outlet.push_sample([hand], pylsl.local_clock() - 0.5)
        news, end = [], perf_counter() + HANG
        while len(news) < 2 and perf_counter() < end:
            news += reader.poll()
            sleep(0.01)
        assert [each.hand for each in news] == ["right", "left"]
        assert [each.stamp for each in news] == pytest.approx([stamps[0], stamps[2]], abs=0.005)
        assert len(reader.collected().onsets) == 2 and reader.observed_by == "lsl"
    finally:
        reader.close()
        del outlet
    with refused("nobody in this network gives a stream named 'nothing'"):
        open_lsl("nothing", seconds=0.05)


@pytest.mark.parametrize("sample", [[""], [0], [1.5], [3], [float("nan")] * 6, [0.0] * 7, ["1"] * 6, []])
def test_what_is_none_of_ours_is_left_out(sample):
    assert read_sample(sample, PLAN.hands) == []
