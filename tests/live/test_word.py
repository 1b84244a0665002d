"""The last word while a take runs, and what a good take is."""

import math

import numpy as np
import pytest

from tempo_coach import coach
from tempo_coach.live.session import Onset
from tempo_coach.live.word import LastWord, find_last_word, is_good
from tempo_coach.observe.onsets import Onsets, Take

PLAN = coach.lay(coach.Request("rope_figure_eight"))
MILLS = coach.lay(coach.Request("clubs_mills", cycles=16))


def words(late: list[float]) -> LastWord | None:
    times = [float(PLAN.moments.time[k]) + off for k, off in enumerate(late)]
    return find_last_word(PLAN, [Onset("right", time, time) for time in times])


def test_the_last_word_is_said_against_her_own_usual_place_not_the_clicks() -> None:
    assert words([-0.04] * 6) == LastWord("steady", "right")
    assert words([-0.04] * 5 + [0.05]) == LastWord("late", "right")
    assert words([0.03] * 5 + [-0.06]) == LastWord("early", "right")


def test_a_scatter_as_everybody_has_it_is_steady() -> None:
    """People who tap with a click scatter by about 4 % of the interval (Repp 2005, from memory)."""
    rng = np.random.default_rng(5)
    said = []
    for _ in range(200):
        times = [float(t) + rng.normal(-0.03, 0.04 * 0.6 / 2) for t in PLAN.moments.time[:8]]
        said.append(find_last_word(PLAN, [Onset("right", time, time) for time in times]))
    assert sum(word is not None and word.word == "steady" for word in said) > 120


def test_there_is_no_word_before_it_is_known_what_is_usual_or_for_a_stray_press() -> None:
    assert words([]) is None
    assert words([0.0] * 3) is None
    assert words([0.0] * 5 + [0.29]) is None
    assert words([0.0] * 5 + [math.nan]) is None


def test_the_word_is_about_the_hand_that_moved_last() -> None:
    rows = sorted(zip(MILLS.moments.time.tolist(), MILLS.moments.hand, strict=True))[:12]
    onsets = [Onset(hand, time, time - 0.02) for time, hand in rows]
    assert find_last_word(MILLS, onsets) == LastWord("steady", onsets[-1].hand)


def test_a_take_that_is_uneven_all_through_is_no_good_one_though_nothing_stands_out() -> None:
    times = MILLS.moments.time + np.random.default_rng(2).normal(0, 0.09, len(MILLS.moments))
    card = coach.judge_take(Take(MILLS, Onsets.unsorted(times.tolist(), MILLS.moments.hand)))
    assert not is_good(card)


def test_a_take_as_anybody_taps_it_is_a_good_one() -> None:
    """Scatter of 4 % of the interval, a lead of 30 ms (Repp 2005, from memory)."""
    rng = np.random.default_rng(3)
    good = 0
    for _ in range(40):
        times = MILLS.moments.time + rng.normal(-0.03, 0.04, len(MILLS.moments))
        good += is_good(coach.judge_take(Take(MILLS, Onsets.unsorted(times.tolist(), MILLS.moments.hand))))
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
    assert is_good(coach.judge_take(take)) is good
