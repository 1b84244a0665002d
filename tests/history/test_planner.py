"""Today's session: what has to be in it, in which order, and how long it is."""

from __future__ import annotations

from datetime import date, timedelta
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tempo_coach.history.planner import LENGTHS, Because, SessionPart, plan_today, seconds_of
from tempo_coach.history.season import Goal, Season
from tempo_coach.history.standing import Known, find_standings, next_step

TODAY = date(2031, 5, 20)


def known(*names):
    return {name: Known(name, 100.0, 60.0, 140.0, 4, 8) for name in names}


def season(*takes):
    """Takes as (drill, days ago, per cent)."""
    names = tuple(dict.fromkeys(drill for drill, *_ in takes))
    ordered = sorted(takes, key=lambda take: -take[1])
    pct = np.array([take[2] for take in ordered])
    n = len(ordered)
    return Season(
        names,
        np.array([names.index(take[0]) for take in ordered], dtype=np.int64),
        np.array([TODAY.toordinal() - take[1] for take in ordered], dtype=np.float64),
        *(np.full(n, each) for each in (100.0, 1.0)),
        pct,
        np.full(n, 8.0),
        pct < 4.5,
    )


def of(drill, pct, *, days=range(1, 9)):
    return [(drill, ago, pct) for ago in days for _ in range(2)]


def plan(made, drills, minutes=20, goals=()):
    return plan_today(made, drills, today=TODAY, minutes=minutes, goals=goals)


def test_it_begins_slowly_and_wide_and_ends_as_in_competition():
    items = plan(season(*of("a", 3.0), *of("b", 6.0), *of("c", 5.0)), known("a", "b", "c"))
    first, *blocks, last = items
    assert (first.part, first.drill, first.cues, first.because) == (SessionPart.WARM_UP, "a", "all", Because.STEADY)
    assert first.tempo_bpm <= 85 and first.tolerance > 1
    assert (last.part, last.takes, last.because) == (SessionPart.LAST, 1, Because.COMPETITION)
    assert {item.part for item in blocks} == {SessionPart.BLOCK}
    assert {item.block for item in blocks} == {1, 2, 3}


def test_a_warm_up_with_what_she_has_not_tried_is_not_called_her_steadiest():
    first, *_ = plan(season(), known("a", "b"))
    assert (first.part, first.because) == (SessionPart.WARM_UP, Because.NEW)


def test_the_weakest_and_what_has_rested_come_first():
    made = season(*of("a", 3.0), *of("b", 7.5), *of("c", 3.2), *of("d", 3.1, days=range(9, 14)))
    blocks = [item for item in plan(made, known("a", "b", "c", "d"), 10) if item.part is SessionPart.BLOCK]
    assert [item.because for item in blocks[:2]] == [Because.WEAKEST, Because.RESTED]
    assert (blocks[0].drill, blocks[1].drill, blocks[1].number) == ("b", "d", 9)


def test_what_would_rest_too_long_comes_once_at_least_where_there_is_no_time_for_more():
    made = season(*of("a", 7.5), *(each for drill in "bcdef" for each in of(drill, 4.0, days=range(9, 12))))
    drills = known(*"abcdef")
    blocks = [item for item in plan(made, drills, 10) if item.part is SessionPart.BLOCK]
    assert {item.drill for item in blocks} == set("abcdef")
    assert [item.block for item in blocks if item.drill == "a"] == [1, 2]
    assert all(a.drill != b.drill for a, b in pairwise(blocks))


def test_what_may_be_as_weak_as_the_weakest_comes_once_at_least():
    goals = [Goal(drill, TODAY + timedelta(days=30), 100) for drill in "cdef"]
    made = season(*of("a", 5.2), *of("b", 5.0), *(each for drill in "cdef" for each in of(drill, 2.5)))
    blocks = [item for item in plan(made, known(*"abcdef"), 10, goals) if item.part is SessionPart.BLOCK]
    assert {item.drill: item.because for item in blocks}["b"] is Because.WEAK


def test_every_block_has_every_drill_once_in_another_order():
    drills = "abcde"
    items = plan(season(*(each for drill in drills for each in of(drill, 5.0))), known(*drills), 40)
    blocks = [[item.drill for item in items if item.block == number] for number in (1, 2, 3)]
    assert all(sorted(block) == sorted(blocks[0]) for block in blocks)
    assert len({tuple(block) for block in blocks}) == 3
    inside = [item.drill for item in items if item.part is SessionPart.BLOCK]
    assert all(a != b for a, b in pairwise(inside))


def test_the_last_one_goes_through_the_goals():
    goals = [Goal("a", TODAY + timedelta(days=30), 100, "all"), Goal("b", TODAY + timedelta(days=40), 120, "none")]
    made = season(*of("a", 4.0), *of("b", 4.0))
    last = plan(made, known("a", "b"), goals=goals)[-1]
    assert (last.drill, last.tempo_bpm, last.cues) == ("b", 120, "none")  # never tried as asked
    over = [Goal("b", TODAY - timedelta(days=1), 120)]
    assert plan(made, known("a", "b"), goals=over)[-1].tempo_bpm != 120


def test_whoever_has_done_nothing_yet_gets_one_new_drill_after_the_other():
    items = plan(season(), known("a", "b", "c"))
    assert all(item.because in (Because.NEW, Because.STEADY, Because.COMPETITION) for item in items)


def test_neither_a_warm_up_nor_a_try_as_in_competition_sets_her_tempo():
    def next_of(*takes):
        """Takes as (days ago, tempo, share of cues, per cent)."""
        n = len(takes)
        ago, tempo, cued, pct = np.array(takes, dtype=float).T
        made = Season(("a",), np.zeros(n, int), TODAY.toordinal() - ago, tempo, cued, pct, np.full(n, 8.0), pct < 4.5)
        (standing,) = find_standings(made, known("a"), today=TODAY)
        return standing.tempo_bpm, standing.cues

    assert next_of((3, 100, 0.3, 3), (2, 80, 1, 3)) == (100, "ones")
    assert next_of((3, 100, 0.3, 3), (2, 80, 1, 3), (1, 80, 1, 3)) == (100, "ones")  # day after day to warm up
    assert next_of((3, 100, 0.3, 3), (2, 112, 0, 9)) == next_of((3, 100, 0.3, 3), (2, 100, 0, 9)) == (100, "ones")
    assert next_of((3, 100, 0.3, 3), (1, 80, 1, 3), (1, 80, 1, 9)) == (76, "all")  # twice: so she practises
    assert next_of((1, 100, 0, 3)) == (100, "none")  # nothing else is known


def test_what_cannot_be_done_in_one_session_is_begun_before_it_is_due():
    # eleven drills that rest seven days; tomorrow would do for each of them alone
    made = season(*of("a", 7.5), *(each for drill in "bcdefghijkl" for each in of(drill, 3.0, days=range(7, 10))))
    items = plan(made, known(*"abcdefghijkl"), 10)
    assert sum(item.because is Because.RESTED for item in items) >= 4


@settings(max_examples=40, deadline=None)
@given(
    st.lists(st.tuples(st.sampled_from("abcdefghijkl"), st.integers(0, 80), st.floats(0.5, 30)), max_size=60),
    st.sampled_from(LENGTHS),
    st.integers(1, 12),
)
def test_it_is_never_longer_than_asked_by_more_than_its_least(takes, minutes, number):
    drills = known(*"abcdefghijkl"[:number])
    items = plan(season(*takes), drills, minutes)
    total = sum(seconds_of(item, drills) for item in items)
    least = sum(
        seconds_of(item, drills) for item in items if item.drill == items[1].drill or item.part is not SessionPart.BLOCK
    )
    assert total <= max(60 * minutes, least)
    assert items == plan(season(*takes), drills, minutes)
    assert items[0].part is SessionPart.WARM_UP and items[-1].part is SessionPart.LAST


@pytest.mark.parametrize(
    ("before", "results", "after"),
    [
        ((100, "all"), [], (100, "all")),
        ((100, "all"), [True], (100, "all")),
        ((100, "all"), [True, True], (100, "alternate")),
        ((100, "alternate"), [False, True, True], (100, "ones")),
        ((100, "ones"), [True, True], (104, "alternate")),
        ((100, "none"), [True, True], (104, "alternate")),
        ((140, "ones"), [True, True], (140, "ones")),
        ((100, "ones"), [True, False], (100, "alternate")),
        ((100, "all"), [False], (96, "all")),
        ((60, "all"), [False], (60, "all")),
        ((50, "all"), [False], (50, "all")),  # slower than is usual already
        ((100, "thinning"), [True], (100, "alternate")),
    ],
)
def test_cues_thin_out_before_the_tempo_goes_up(before, results, after):
    assert next_step(*before, results, (60, 140)) == after


@pytest.mark.parametrize(("drills", "minutes"), [((), 20), (("a",), 15)])
def test_without_a_drill_or_with_another_length_there_is_none(drills, minutes):
    with pytest.raises(ValueError, match="expected a drill and"):
        plan(season(), known(*drills), minutes)
