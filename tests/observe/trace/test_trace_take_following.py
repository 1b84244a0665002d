"""A trace becomes a take of a plan: hands by name or order, flights where something is thrown."""

import numpy as np
import pytest

from tempo_coach import coach
from tempo_coach.coach import Request, lay
from tempo_coach.observe.trace.selection import pick
from tempo_coach.observe.trace.trace import Trace
from tempo_coach.observe.trace.trace_take import FollowedTrace, find_noise_floor, follow, place, to_take
from tempo_coach.observe.trace.tracked_body import observe
from tempo_coach.observe.trace.uneven import Uneven
from tempo_coach.reasons import Reason, Why
from tempo_coach.report.words.card import card_to_dict, format_card
from tempo_coach.report.words.reasons import say_reason
from tempo_coach.score.trace.take_sizes import put_on_plan
from tests.generators import movement
from tests.refused import refused


@pytest.fixture(scope="module")
def mills():
    return movement.mills(3)


@pytest.fixture(scope="module")
def plan():
    # a cycle of two counts lasts 0.6 s
    return lay(Request("clubs_mills", tempo_bpm=200, cycles=20))


def test_movers_become_onsets_of_the_plans_hands(mills, plan):
    followed = follow(mills.trace, plan)
    assert set(followed.events) == set(plan.hands)
    assert followed.left_out == ()
    take = to_take(followed, place(followed, mills.trace, clap=(0.3, float(plan.moments.time[0]))))
    assert take.observed_by == "sensor"
    mine = take.onsets.of_hand(plan.hands[0])
    late = float(plan.moments.time[0]) - 0.3
    np.testing.assert_allclose(mine - late, mills.circles["first"][: mine.size], atol=0.01)


def test_the_fit_keeps_the_hands_apart(mills, plan):
    followed = follow(mills.trace, plan)
    placing = place(followed, mills.trace)
    # the first mover's first circle is the first hand's first moment, not the other hand's half a circle beside it
    # give or take whole circles, which even mills cannot tell
    circles = (placing.offset - float(plan.moments.time[0]) + 0.3) / 0.6
    assert circles == pytest.approx(round(circles), abs=0.1)
    assert placing.doubt


def test_a_hand_that_nothing_follows_is_not_missed(mills, plan):
    followed = follow(pick(mills.trace, point="first"), plan)
    assert followed.left_out == (Reason(Why.NOT_FOLLOWED, (plan.hands[1],)),)
    assert set(followed.plan.moments.hand) == {plan.hands[0]}


def test_another_tempo_is_said(mills):
    slow = lay(Request("clubs_mills", tempo_bpm=100, cycles=20))
    assert "every 0.60 s and the plan asks for one every 1.20 s" in say_reason(follow(mills.trace, slow).left_out[0])


def test_two_movers_for_one_hand_are_refused(mills):
    rope = lay(Request("rope_figure_eight", tempo_bpm=90, cycles=8))
    assert set(follow(mills.trace, rope).events) == set(rope.hands)
    with refused("two tracked bodies"):
        follow(mills.trace, rope, against=("second",))


def test_a_ball_is_followed_by_its_flights():
    plan = lay(Request("ball_toss_turn", tempo_bpm=150, cycles=3))
    asked = plan.moments.time[[kind == "release" for kind in plan.moments.kind]]
    made = movement.tosses(1, releases=asked - 1.9, speed=6.5)
    followed = follow(made.trace, plan)
    assert followed.left_out == (Reason(Why.UNSEEN_MOMENTS, ("turn", "right")),)
    take = to_take(followed, place(followed, made.trace, clap=(0, 1.9)))
    assert len(take.onsets) == 6
    np.testing.assert_allclose(take.onsets.time[::2], asked, atol=0.01)
    with refused("no flight"):
        follow(movement.rope(1).trace, plan)


def test_the_clocks_of_stamps_and_take_place_it(mills, plan):
    stamped = Trace(mills.trace.time, mills.trace.values, mills.trace.channels, clock_start=1_900_000_010.0)
    followed = follow(stamped, plan)
    assert place(followed, stamped, started=1_900_000_005.0).offset == 5
    with refused("no date"):
        place(followed, mills.trace, started=1_900_000_005.0)


def test_what_was_done_before_and_after_is_left_out(mills):
    short = lay(Request("clubs_mills", tempo_bpm=200, cycles=8))
    followed = follow(mills.trace, short)
    take = to_take(followed, place(followed, mills.trace, clap=(0.3, float(short.moments.time[0]))))
    assert len(take.onsets) == 16


@pytest.mark.parametrize("noise", [0.02, 0.05])
def test_the_noise_floor_is_what_a_crossing_in_that_noise_is_off_by(noise):
    # s/(A w) sqrt(2/3) for interpolated crossings (exact, simulated); the timing here filters and is a little better
    made = movement.mills(5, n=60, noise=noise)
    floor = find_noise_floor(observe(pick(made.trace, point="first")))
    assert floor == pytest.approx(noise / (2 * np.pi / 0.6) * np.sqrt(2 / 3), rel=0.15)


def test_a_fitted_take_has_no_bias_and_a_placed_one_has(plan):
    made = movement.mills(4, jitter=0.0)
    fitted = coach.judge_placed(coach.place_trace(made.trace, plan))
    assert np.isnan(fitted.value("bias_ms"))
    assert fitted.reasons["bias_ms"].code is Why.FITTED
    assert fitted.notes["placing"] == fitted.reasons["bias_ms"]
    assert fitted.noise_floor_ms > 0
    late = coach.judge_placed(coach.place_trace(made.trace, plan, clap=(0.3, float(plan.moments.time[0]) + 0.04)))
    assert late.value("bias_ms") == pytest.approx(40, abs=3)
    assert late.missed.size == 0
    (lag,) = late.lags
    assert lag.lag.degrees % 360 == pytest.approx(180, abs=1)


@pytest.mark.parametrize(("factor", "said"), [(1.4, "bigger"), (0.65, "smaller")])
def test_a_circle_of_another_size_is_on_the_card(factor: float, said: str) -> None:
    plan = lay(Request("clubs_mills", tempo_bpm=150, cycles=19, hand="right"))
    radii = np.full(20, 0.5)
    radii[9] *= factor
    trace = movement.circling(radii, seed=9)
    # its low points lie at .2 s and every .8 s after that
    placed = coach.place_trace(trace, plan, clap=(0.0, float(plan.moments.time[0])))
    card = coach.judge_placed(placed)
    (size,) = card.sizes.odd
    assert size.hand == plan.hands[0] and size.cycle in (8, 9) and (size.ratio > 1) == (factor > 1)
    told = card_to_dict(card)["detail"]["sizes"]["odd"][0]
    assert told["cycle"] == size.cycle and said in told["words"]
    assert f"% {said} than its neighbours" in " ".join(format_card(card).split())
    even = coach.judge_placed(coach.place_trace(movement.circling(np.full(20, 0.5), seed=9), plan))
    assert even.sizes.odd == () and "Sizes:" not in format_card(even)


def test_sizes_are_told_of_the_cycle_and_moment_that_they_are_of() -> None:
    plan = lay(Request("clubs_mills", tempo_bpm=200, cycles=8))
    at = plan.moments.of_hand("left")
    asked = plan.moments.time[at]
    flag = Uneven("bigger", 3, 3, float(asked[3]) - 1.0, float(asked[4]) - 1.0, 1.3)
    followed = FollowedTrace(plan, {}, True, 0.0, ())
    found = put_on_plan(flag, followed, "left", 1.0)
    assert found is not None and (found.cycle, found.hand, found.label) == (int(plan.moments.cycle[at[3]]), "left", "")
    circle = Uneven("smaller", 0, 0, float(asked[2]) - 0.1, float(asked[2]) + 0.1, 0.7, None, 2)
    found = put_on_plan(circle, followed, "left", 0.0)
    assert found is not None and found.cycle == int(plan.moments.cycle[at[2]])
    assert put_on_plan(circle, followed, "left", 100.0) is None
