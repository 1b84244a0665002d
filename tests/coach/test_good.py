"""What a good take is."""

import numpy as np
import pytest

from tempo_coach import coach
from tempo_coach.observe.onsets import Onsets, Take

MILLS = coach.lay(coach.Request("clubs_mills", cycles=16))


def test_a_take_without_onsets_is_no_good_one() -> None:
    assert not coach.is_good(coach.judge_take(Take(MILLS, Onsets([], ()))))


def test_a_take_that_is_uneven_all_through_is_no_good_one_though_nothing_stands_out() -> None:
    times = MILLS.moments.time + np.random.default_rng(2).normal(0, 0.09, len(MILLS.moments))
    card = coach.judge_take(Take(MILLS, Onsets.unsorted(times.tolist(), MILLS.moments.hand)))
    assert not coach.is_good(card)


def test_a_take_as_anybody_taps_it_is_a_good_one() -> None:
    """Scatter of 4 % of the interval, a lead of 30 ms (Repp 2005, from memory)."""
    rng = np.random.default_rng(3)
    good = 0
    for _ in range(40):
        times = MILLS.moments.time + rng.normal(-0.03, 0.04, len(MILLS.moments))
        good += coach.is_good(coach.judge_take(Take(MILLS, Onsets.unsorted(times.tolist(), MILLS.moments.hand))))
    assert good >= 32


@pytest.mark.parametrize(
    ("broken", "missing", "scale", "good"),
    [
        (0, 0, 1.0, True),
        (1, 0, 1.0, True),
        (4, 0, 1.0, False),
        (0, 6, 1.0, False),
        (0, 0, 1.06, False),
        (0, 32, 1.0, False),
    ],
)
def test_a_good_take_is_even_whole_and_in_tempo(broken: int, missing: int, scale: float, good: bool) -> None:
    rng = np.random.default_rng(1)
    times = MILLS.moments.time * scale + rng.normal(0, 0.008, len(MILLS.moments))
    for k in range(broken):
        times[5 + 6 * k] += 0.2
    keep = np.arange(len(times)) >= missing
    take = Take(
        MILLS, Onsets.unsorted(times[keep].tolist(), [h for h, k in zip(MILLS.moments.hand, keep, strict=True) if k])
    )
    assert coach.is_good(coach.judge_take(take)) is good
