"""Flights of a take: long or short in counts, with the release and the catch that made them so."""

from dataclasses import replace

import numpy as np
import pytest

from tempo_coach.coach import Request, lay
from tempo_coach.report.words.flights import format_throws, say_throw, throws_to_list
from tempo_coach.score.trace.throws import judge_throws


@pytest.fixture
def plan():
    return lay(Request("ball_toss_turn", tempo_bpm=120, cycles=6))


def late(plan, changes):
    """Asynchronies of 0 but for (cycle, kind): seconds."""
    off = np.zeros(len(plan.moments))
    for k, (cycle, kind) in enumerate(zip(plan.moments.cycle, plan.moments.kind, strict=True)):
        off[k] = changes.get((int(cycle), kind), 0.0)
    return off


def test_each_way_of_being_wrong_is_told(plan):
    throws = judge_throws(
        plan,
        late(
            plan,
            {
                (1, "release"): 0.1,
                (2, "catch"): 0.25,
                (3, "release"): 0.2,
                (3, "catch"): 0.2,
                (4, "catch"): np.nan,
                (5, "turn"): np.nan,
            },
        ),
    )
    assert [throw.length for throw in throws] == ["in time", "short", "long", "in time", "not seen", "in time"]
    # three counts of half a second (exact)
    assert throws[1].done == pytest.approx(3 - 0.1 / 0.5)
    assert throws[2].done == pytest.approx(3.5)
    assert say_throw(throws[1]).endswith("too short: let go 100 ms late, caught on the count")
    assert "too long" in say_throw(throws[2])
    assert say_throw(throws[3]) == "in time: let go 200 ms late, caught 200 ms late"
    assert say_throw(throws[4]) == "the catch was not observed"
    said = format_throws(throws)
    assert said.splitlines()[0] == "3 of 6 flights were in time."
    assert len(said.splitlines()) == 4
    values = throws_to_list(throws)
    assert values[4]["counts"] is None
    assert values[1]["release_ms"] == pytest.approx(100)


def test_less_than_the_allowance_is_in_time(plan):
    inside = 0.9 * max(plan.allowance, 0.025) * 1.5
    assert judge_throws(plan, late(plan, {(0, "catch"): inside}))[0].length == "in time"


def test_two_clubs_have_a_flight_each():
    plan = lay(Request("clubs_small_toss_two", tempo_bpm=112, cycles=3))
    throws = judge_throws(plan, np.zeros(len(plan.moments)))
    assert len(throws) == 6
    assert {throw.hand for throw in throws} == {"right", "left"}
    assert [throw.cycle for throw in throws] == [0, 0, 1, 1, 2, 2]  # in order of release, not hand by hand


def test_what_is_not_thrown_has_no_flight():
    for drill in ("rope_figure_eight", "hoop_floor_roll", "ribbon_boomerang", "rope_wrap_release"):
        plan = lay(Request(drill, cycles=2))
        assert judge_throws(plan, np.zeros(len(plan.moments))) == ()
    with pytest.raises(ValueError, match="asynchronies"):
        judge_throws(plan, np.zeros(1))


@pytest.mark.parametrize(("share", "length"), [(0.99, "in time"), (1.01, "long"), (-0.99, "in time"), (-1.01, "short")])
@pytest.mark.parametrize(("allowance", "holds"), [(0.01, 0.025), (0.025, 0.025), (0.05, 0.05)])
def test_a_flight_is_off_from_the_allowance_on_and_never_from_less_than_is_heard(allowance, holds, share, length):
    # 2.5 % of a flight is about what is heard of an interval; three counts are 1.5 s
    plan = replace(lay(Request("ball_toss_turn", tempo_bpm=120, cycles=2)), allowance=allowance)
    first, second = judge_throws(plan, late(plan, {(1, "catch"): share * holds * 1.5}))
    assert (first.length, second.length) == ("in time", length)
    assert (first.cycle, second.cycle) == (0, 1)
    assert second.asked == 3 and second.done == pytest.approx(3 * (1 + share * holds))
