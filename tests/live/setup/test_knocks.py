"""Knocks that a microphone hears and phones feel: the delay of each phone, whatever the sensor's steps."""

from __future__ import annotations

import numpy as np
import pytest

from tempo_coach.live.inputs.source import Collected
from tempo_coach.live.setup.calibration import PHONE, keep_calibration, phone_latency, to_plain
from tempo_coach.live.setup.knocks import find_knocks, measure_phone_delays
from tests.refused import refused

RATE = 8000
KNOCKS = 3.0 + np.cumsum(np.random.default_rng(2).uniform(0.8, 1.2, 14))
AHEAD = 5000.0  # our clock at take time 0
RING = np.exp(-np.arange(400) / 60) * np.random.default_rng(1).standard_normal(400)


def heard():
    sound = 1e-4 * np.random.default_rng(3).standard_normal(RATE * 22)
    for knock in KNOCKS:
        sound[round(knock * RATE) :][: RING.size] += RING
    return sound


def worn(late: float, seed: int = 0, *, hz: float = 60.0):
    """Readings at even steps of what was felt a while before, the knock ringing for some 20 ms."""
    rng = np.random.default_rng(seed)
    at = np.arange(0, 21, 1 / hz) + rng.uniform(0, 1 / hz)
    since = (at - late)[:, None] - KNOCKS[None, :]
    felt = np.where((since >= 0) & (since < 0.1), 25 * np.exp(-since.clip(0, 1) / 0.02), 0.0).sum(axis=1)
    rows = np.column_stack([at + AHEAD, np.zeros((at.size, 6))])
    rows[:, 1:4] = 0.05 * rng.standard_normal((at.size, 3)) + [0, 0, 9.8]
    rows[:, 3] += felt
    return rows.tolist()


def test_each_phones_delay_is_found_whether_it_is_touched_or_felt():
    rng = np.random.default_rng(5)
    found = {
        "Ada": Collected(onsets=[(AHEAD + t + 0.031 + 0.004 * rng.standard_normal(), "body") for t in KNOCKS]),
        "Bea": Collected(readings={"body": worn(0.022)}),
        "Cyl": Collected(readings={"body": worn(0.045, 1)}),
    }
    delays = measure_phone_delays(found, heard(), RATE, take_time=lambda stamp: stamp - AHEAD, quiet=1.0)
    assert delays["Ada"].mean == pytest.approx(0.031, abs=0.003)
    assert delays["Bea"].mean == pytest.approx(0.022, abs=0.004)
    assert delays["Cyl"].mean == pytest.approx(0.045, abs=0.004)
    assert all(each.low <= true <= each.high for each, true in zip(delays.values(), (0.031, 0.022, 0.045), strict=True))


def test_a_phone_that_lay_still_is_named():
    with refused("Ada: expected at least 10 strokes that can be heard, found 0"):
        measure_phone_delays(
            {"Ada": Collected(readings={"body": worn(0.02)[:60]})},
            heard(),
            RATE,
            take_time=lambda s: s - AHEAD,
            quiet=1,
        )
    assert find_knocks([]).size == 0


def test_knocks_that_contradict_each_other_are_no_delay():
    late = np.random.default_rng(4).uniform(0, 0.19, KNOCKS.size)  # taps beside the knocks
    taps = Collected(onsets=[(AHEAD + t, "body") for t in (KNOCKS + late).tolist()])
    with refused("Ada: 14 knocks tell the delay within ±"):
        measure_phone_delays({"Ada": taps}, heard(), RATE, take_time=lambda s: s - AHEAD, quiet=1)


def test_what_was_measured_is_taken_out_of_that_phone(tmp_path, monkeypatch):
    for name in ("XDG_DATA_HOME", "LOCALAPPDATA", "HOME"):
        monkeypatch.setenv(name, str(tmp_path))
    taps = Collected(onsets=[(AHEAD + t + 0.031, "body") for t in KNOCKS])
    found = measure_phone_delays({"Ada": taps}, heard(), RATE, take_time=lambda s: s - AHEAD, quiet=1.0)
    keep_calibration(f"{PHONE}Ada", {"knock": to_plain(found["Ada"], begun="2031-05-04")})
    assert phone_latency("Ada") == pytest.approx(0.031, abs=0.001) and phone_latency("Bea") is None
