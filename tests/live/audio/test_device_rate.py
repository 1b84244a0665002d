"""Requests of devices that keep their rate or change it, invented, on machines that are idle or starved."""

from __future__ import annotations

import numpy as np
import pytest

from tempo_coach.live.audio.device_rate import RateChange, RateWatch

BLOCK = 512


def watch(
    rate_hz: int, plays_hz: float, *, since: float, late: float = 0.0, lost: float = 0.0, seconds: float = 20.0
) -> tuple[RateChange | None, float]:
    """What is found, and how long after the change; requests come late, and sound is lost half a time a second."""
    draw = np.random.default_rng(4)
    watched, frame, now = RateWatch(rate_hz), 0, 500.0
    while now < 500 + seconds:
        now += BLOCK / (rate_hz if now < 500 + since else plays_hz)
        now += draw.exponential(lost) if draw.random() < 0.5 * BLOCK / rate_hz else 0.0
        frame += BLOCK
        watched.add(frame, now + draw.exponential(late))
        found = watched.find()
        if found:
            return found, now - 500 - since
    return None, np.nan


@pytest.mark.parametrize(("asked", "plays"), [(48_000, 44_100), (44_100, 48_000), (48_000, 96_000), (44_100, 16_000)])
@pytest.mark.parametrize("late", [0.0, 0.003])
def test_another_rate_is_found_within_three_seconds_and_when_it_began(asked: int, plays: int, late: float) -> None:
    found, after = watch(asked, plays, since=6.0, late=late)
    assert found is not None and found.rate_hz == plays
    assert after < 3.0
    assert 5.5 <= found.frame / asked <= 6.05


def test_a_device_that_is_at_another_rate_from_the_start_is_found() -> None:
    found, after = watch(48_000, 44_100, since=0.0)
    assert found is not None and found.frame < 0.3 * 48_000 and after < 3.0


@pytest.mark.parametrize("ppm", [160.0, -400.0])
@pytest.mark.parametrize(("late", "lost"), [(0.0, 0.0), (0.01, 0.0), (0.003, 0.2), (0.05, 0.5)])
def test_a_device_that_keeps_its_rate_is_not_told_however_starved(ppm: float, late: float, lost: float) -> None:
    assert watch(48_000, 48_000 * (1 + 1e-6 * ppm), since=0.0, late=late, lost=lost, seconds=100.0)[0] is None
