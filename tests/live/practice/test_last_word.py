"""The last word while a take runs."""

import math

import numpy as np

from tempo_coach import coach
from tempo_coach.live.practice.last_word import LastWord, WordsOfTake, find_last_word
from tempo_coach.live.practice.session import Onset

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


def test_a_word_stays_a_second_and_all_of_them_are_kept() -> None:
    early, late = LastWord("early", "right"), LastWord("late", "right")
    words_of = WordsOfTake()
    shown = []
    for stamp, word in ((0.0, early), (0.5, late), (1.0, late), (1.9, None), (2.0, None)):
        words_of.add(word, stamp)
        shown.append(words_of.shown)
    assert shown == [early, early, late, late, None]
    assert words_of.so_far == [early, late, late]
