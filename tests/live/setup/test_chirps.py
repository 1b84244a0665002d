"""The loop of loudspeaker and microphone, from chirps in invented rooms whose delay is known."""

from __future__ import annotations

import numpy as np
import pytest

from tempo_coach.live.inputs.microphone import Recorded
from tempo_coach.live.setup.chirps import CHANGES_FROM, LoopDelay, find_chirp_loops, join_loops, make_chirps
from tests.refused import refused

RATE = 48_000


def heard_later(
    loop: float, *, noise: float = 0.02, first_frame: int = -24_000
) -> tuple[Recorded, np.ndarray, np.ndarray]:
    samples, starts = make_chirps(RATE)
    heard = np.random.default_rng(2).normal(0, noise, len(samples) + 2 * RATE)
    whole, part = divmod(loop * RATE, 1)
    moved = np.interp(np.arange(len(samples)) - part, np.arange(len(samples)), samples)
    at = int(whole) - first_frame
    heard[at : at + len(samples)] += moved
    return Recorded(heard.astype(np.float32), RATE, first_frame), samples, starts


@pytest.mark.parametrize("loop", [0.0, 0.0853, 0.08711, 0.31])
def test_each_chirp_tells_the_loop_to_a_tenth_of_a_sample(loop: float) -> None:
    found = find_chirp_loops(*heard_later(loop))
    assert found.size == 5
    np.testing.assert_allclose(found * RATE, loop * RATE, atol=0.1)


def test_chirps_that_cannot_be_heard_say_so() -> None:
    recorded, samples, starts = heard_later(0.1)
    silent = Recorded(np.random.default_rng(3).normal(0, 0.02, recorded.samples.size).astype(np.float32), RATE, 0)
    nothing = find_chirp_loops(silent, samples, starts)
    assert nothing.size == 0
    for openings in ([], [nothing], [np.full(5, 0.1), nothing]):
        with refused("not heard"):
            join_loops(openings)


def test_a_delay_that_changes_between_openings_is_told() -> None:
    """Openings of one server that were measured: 42.67 ms nine times, 53.31 ms once."""
    steady = join_loops([np.full(5, 0.04267)] * 9)
    assert not steady.changes and steady.delay == pytest.approx(0.04267) and steady.spread == 0
    changed = join_loops([np.full(5, 0.04267)] * 9 + [np.full(5, 0.05331)])
    assert changed.changes and changed.delay == pytest.approx(0.04267) and changed.range > CHANGES_FROM
    assert not LoopDelay((0.1,), 0.0).changes
