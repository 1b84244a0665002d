"""Which moments were not scored, by eight and count."""

import numpy as np
import pytest

from tempo_coach import coach
from tempo_coach.observe.take.take_file import make_take
from tempo_coach.report.words.card import format_card
from tempo_coach.report.words.places import MOST_STRETCHES, find_lost, tell_lost

PLAN = coach.lay(coach.Request("clubs_mills", tempo_bpm=60, cycles=16))
ROPE = coach.lay(coach.Request("rope_figure_eight", tempo_bpm=60, cycles=8))


def judge(plan, *gaps, without=()):
    """A take that answers each moment 5 ms late, with sound lost in some stretches and some moments missed."""
    times = plan.moments.time + 0.005
    lost = np.array([any(start <= time <= end for start, end in gaps) for time in times])
    rows = [(float(times[k]), plan.moments.hand[k]) for k in range(len(times)) if not lost[k] and k not in without]
    return coach.judge_take(make_take(plan, rows, observed_by="tap", unmeasurable=gaps))


def around(plan, first, last):
    return (float(plan.moments.time[first]) - 0.2, float(plan.moments.time[last]) + 0.2)


@pytest.mark.parametrize(
    ("plan", "first", "last", "said"),
    [
        # a mill each 2 counts, right on 2 and left a count later: moment k lies on count k + 2 of the plan
        (PLAN, 3, 3, "eight 1 count 5 (circle, left)"),
        (PLAN, 4, 6, "eight 1 count 6 to 8 (2 right, 1 left)"),
        (PLAN, 6, 8, "eight 1 count 8 to eight 2 count 2 (2 right, 1 left)"),
        (ROPE, 0, 0, "eight 1 count 1& (low)"),
        (ROPE, 0, 2, "eight 1 count 1& to 3a (3 moments)"),
    ],
)
def test_a_stretch_is_told_by_its_first_and_last_count(plan, first, last, said):
    card = judge(plan, around(plan, first, last))
    assert find_lost(card) == [(first, last)]
    assert tell_lost(card) == said
    assert f"Not scored: {said}" in " ".join(format_card(card).split())


def test_what_was_missed_was_not_lost_and_a_take_without_gaps_lost_nothing():
    card = judge(PLAN, around(PLAN, 4, 4), without=(10, 11))
    assert find_lost(card) == [(4, 4)] and 10 in card.missed
    assert find_lost(judge(PLAN, without=(10, 11))) == [] and tell_lost(judge(PLAN)) == ""


def test_many_stretches_are_told_up_to_a_number_and_counted_beyond():
    card = judge(PLAN, *(around(PLAN, k, k) for k in range(2, 22, 2)))
    told = tell_lost(card).split("; ")
    assert len(find_lost(card)) == 10 and len(told) == MOST_STRETCHES + 1
    assert told[-1] == f"and at {10 - MOST_STRETCHES} more places"
