"""The takes that judge the verdict are what they say: the scatter asked for, the faults done, the truth beside them."""

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from tests.benchmarks import heavy_oracle
from tests.benchmarks.alike import alike_by_plan
from tests.benchmarks.astray import WAYS
from tests.benchmarks.bench_coverage import cover, true_spread
from tests.benchmarks.bench_promises import worst_by_chance
from tests.benchmarks.bench_tappers import bears_out
from tests.benchmarks.bench_verdict import worst
from tests.benchmarks.drawn import draw_single
from tests.benchmarks.faults import EVEN, Fault, lay, nodes_of, period_of
from tests.benchmarks.judging import JUDGING, QUICK, Draw, cases, ways
from tests.benchmarks.oracle import covariance, level_sd, power, shape_of
from tests.benchmarks.performers import FAMILIES, Who, clock_errors, draw_noise, lateness, perform
from tests.benchmarks.seen import Seen, false_per_1000, share_found
from tests.benchmarks.told import Told, is_right, is_told

STILL = Who(spread=1e-9)


def answered(performed):
    """Lateness of each moment of the plan; NaN where none answers."""
    late = performed.take.onsets.time[performed.answer] - performed.take.plan.moments.time
    return np.where(performed.answer >= 0, late, np.nan)


@pytest.mark.parametrize("drill", ["clubs_asymmetric", "rope_figure_eight", "clubs_mills"])
@pytest.mark.parametrize("family", FAMILIES)
def test_spread_is_the_coefficient_of_variation_that_was_asked(drill, family):
    plan = lay(drill, 32)
    who = Who(family, spread=0.03, correction=0.3, motor_share=0.6)
    chance = np.random.default_rng(5)
    squares = []
    for _ in range(60):
        performed = perform(plan, who, chance)
        times = performed.take.onsets.time[performed.answer]
        hands = plan.hands if family == "step" else plan.moments.hand[:1]
        for hand in hands:
            mine = plan.moments.of_hand(hand)
            if family != "step":
                mine = mine[np.unique(plan.moments.cycle[mine], return_index=True)[1]]
            squares.append((np.diff(times[mine]) / np.diff(plan.moments.time[mine]) - 1) ** 2)
    realised = np.concatenate(squares).mean() ** 0.5
    # the square of a t with 3 degrees of freedom has no variance of its own: its mean settles slowly
    assert realised == pytest.approx(0.03, rel=0.25 if family == "heavy" else 0.05)


@pytest.mark.parametrize("family", ["cycle", "step", "wandering"])
def test_covariance_is_that_of_takes(family):
    plan = lay("clubs_mills_two", 4)
    who = Who(family, correction=0.5, motor_share=0.4)
    chance = np.random.default_rng(3)
    late = np.array([answered(perform(plan, who, chance)) for _ in range(1500)])
    expected = covariance(plan, who)
    assert np.abs(np.cov(late.T) - expected).max() < 0.12 * expected.max()


def test_a_long_cycle_is_longer_by_what_was_asked_and_kept_or_made_good():
    plan = lay("rope_figure_eight", 8)
    by = 0.2 * period_of(plan)
    anchors = np.searchsorted(plan.moments.time, nodes_of(plan)[:-1])
    for kept, family, then in ((True, "cycle", 1.0), (False, "cycle", 0.6), (False, "step", 0.6)):
        performed = perform(
            plan, Who(family, spread=1e-9), np.random.default_rng(1), Fault("long", cycle=3, by=by, kept=kept)
        )
        late = answered(performed)[anchors] / by
        np.testing.assert_allclose(late, [0, 0, 0, 0, 1, then, then**2, then**3], atol=1e-6)


def test_missed_extra_and_late_are_at_their_place():
    plan = lay("clubs_mills_three", 8)
    for kind in ("missed", "extra", "both", "late"):
        chance = np.random.default_rng(7)
        fault = draw_single(plan, kind, chance)
        performed = perform(plan, STILL, chance, fault)
        late = answered(performed)
        missed = kind in ("missed", "both")
        assert list(np.flatnonzero(np.isnan(late))) == ([fault.moment] if missed else [])
        assert performed.extra.sum() == (kind in ("extra", "both"))
        if kind == "late":
            assert late[fault.moment] == pytest.approx(fault.by) and np.abs(np.delete(late, fault.moment)).max() < 1e-6


def test_twice_as_fast_goes_on_to_the_end_or_ends_early():
    plan = lay("ball_bounces", 8)
    length = plan.moments.time[-1] - plan.moments.time[0]
    for goes_on, reaches in ((False, 0.5), (True, 1.0)):
        fault = Fault("other_tempo", ratio=2.0, goes_on=goes_on)
        times = perform(plan, STILL, np.random.default_rng(1), fault).take.onsets.time
        assert np.diff(times)[0] == pytest.approx(np.diff(plan.moments.time)[0] / 2)
        assert (times[-1] - times[0]) / length == pytest.approx(reaches, abs=0.07)


def test_who_jumps_ahead_leaves_out_what_came_then():
    plan = lay("clubs_mills_two", 8)
    fault = Fault("slipped", cycle=4, counts=-2.0)
    late = answered(perform(plan, STILL, np.random.default_rng(1), fault))
    count = period_of(plan) / plan.cycle_counts
    np.testing.assert_allclose(late[plan.moments.cycle >= 4], -2 * count, atol=1e-6)
    assert np.isnan(late).sum() == 4


def test_power_of_who_is_told_everything_is_what_her_test_finds():
    plan, rate = lay("rope_figure_eight", 8), 0.06
    who = Who(spread=0.03)
    fault = Fault("late", moment=10, by=0.05 * period_of(plan))
    inverse = np.linalg.inv(covariance(plan, who))
    ones, spike = np.ones(len(plan.moments)), np.arange(len(plan.moments)) == 10
    weights = inverse @ spike - inverse @ ones * (ones @ inverse @ spike) / (ones @ inverse @ ones)
    chance = np.random.default_rng(2)
    takes = [chance.standard_normal((n, 40_000)) for n in (clock_errors(plan, who), len(plan.moments))]
    late = weights @ lateness(plan, who, *takes)
    far, found = abs(late), abs(late[:4000] + weights @ spike * fault.by)
    # three moments a cycle, half of the rate for them
    threshold = np.quantile(far, 1 - rate / 2 / 3)
    assert np.mean(found > threshold) == pytest.approx(power(plan, who, fault, rate=rate), abs=0.03)


def test_a_case_is_the_same_whoever_draws_it():
    draw = Draw(QUICK)
    many = list(cases("ball_flip", "both", 3, draw))
    (third,) = cases("ball_flip", "both", 1, draw, first=2)
    np.testing.assert_array_equal(many[2].take.onsets.time, third.take.onsets.time)
    assert not np.array_equal(many[0].take.onsets.time[:5], many[1].take.onsets.time[:5])


def alike(drill, fault):
    return alike_by_plan(lay(drill, 8), fault) - {fault.kind}


def test_what_a_plan_cannot_tell_is_known():
    half, swapped = Fault("half_cycle_off", by=period_of(lay("clubs_mills", 8)) / 2), Fault("hands_swapped")
    assert alike("clubs_mills", half) == {"hands_swapped"} and alike("clubs_mills", swapped) == {"half_cycle_off"}
    # two circles of equal length a cycle: half a cycle later is the plan again
    assert "even" in alike("ball_figure_eight", Fault("half_cycle_off", by=period_of(lay("ball_figure_eight", 8)) / 2))
    for drill in ("ball_figure_eight", "hoop_hand_rotations", "rope_figure_eight_observed", "rope_skips_single"):
        assert alike(drill, Fault("other_tempo", ratio=0.5)) == {"missed"}
    assert not alike("rope_wrap_release", Fault("other_tempo", ratio=0.5))
    assert alike("clubs_mills_three", swapped) == {"all_late", "all_early"}
    assert "missed" in alike("clubs_mills_two", Fault("slipped", cycle=4, counts=1.0))


def finding(kind, **told):
    nothing = dict.fromkeys(("cycle", "hand", "moment", "by_ms", "by_counts", "ratio"))
    return SimpleNamespace(**{"kind": kind, "confidence": 0.9, "same_as": (), **nothing, **told})


@pytest.mark.parametrize(
    ("fault", "told", "is_so"),
    [
        (Fault("other_tempo", ratio=2.0), finding("other_tempo", ratio=1.98), True),
        (Fault("other_tempo", ratio=2.0), finding("other_tempo", ratio=0.5), False),
        (Fault("late_entry", cycle=2), finding("late_entry", by_counts=8.1), True),
        (Fault("late_entry", cycle=2), finding("late_entry", by_counts=4.0), False),
        (Fault("late_entry", cycle=2), finding("stopped", same_as=("late_entry",)), True),
        (Fault("slipped", cycle=4, counts=-1.0), finding("slipped", cycle=4, by_ms=-600.0), True),
        (Fault("slipped", cycle=4, counts=-1.0), finding("slipped", cycle=1, by_ms=-600.0), False),
        (Fault("long", cycle=3, by=0.5), finding("long", cycle=3, hand="right"), True),
        (Fault("long", cycle=3, by=0.5), finding("long", cycle=4, hand="right"), False),
        (Fault("missed", moment=10), finding("missed", cycle=3, hand="right", moment="high 1"), True),
        (Fault("missed", moment=10), finding("missed", cycle=3, hand="right", moment="low"), False),
        (Fault("missed", moment=10), finding("missed", cycle=3, hand="right", moment=10), True),
        (EVEN, finding("even"), True),
        (EVEN, finding("all_late"), False),
    ],
)
def test_the_first_finding_is_right_where_it_says_what_was_done_and_where(fault, told, is_so):
    plan = lay("rope_figure_eight", 8)
    performed = perform(plan, STILL, np.random.default_rng(1), fault)
    card = SimpleNamespace(plan=plan, findings=(told,))
    assert is_right(card, performed, {fault.kind}) == is_so


@pytest.mark.parametrize("way", WAYS)
def test_a_way_of_going_wrong_is_drawn_in_some_drill_and_never_looks_even(way):
    draw = Draw(QUICK, lengths=(16,), spreads=((0.02, 0.03),))
    drawn = [each for drill in ("clubs_mills", "rope_figure_eight") for each in ways(drill, way, 4, draw)]
    assert drawn and all(performed.fault.kind in right or "both" in way for performed, right in drawn)
    assert all(("even" in right) == (way == "even") for _, right in drawn)


def test_the_worst_drill_is_named_and_judged():
    seen = [Seen("one", 8, STILL, turn, found=turn > 0) for turn in range(4)]
    seen += [Seen("other", 8, STILL, turn, found=True, elsewhere=2) for turn in range(4)]
    row = worst("long", seen, share_found, floor=0.8)
    assert "one" in row.what and row.value == 0.75 and not row.holds
    row = worst("false", seen, false_per_1000, floor=300, better="low")
    assert "other" in row.what and row.value == 250 and row.holds


def test_what_is_told_of_a_tapper_is_held_against_her_taps():
    number = np.arange(12)
    late = np.array([0, 3, -2, 1, 0, 90, 2, -1, 3, 0, -3, 1]) / 1000
    assert bears_out(Told("late", 5, "right", "tap"), 0.6, number, late)
    assert bears_out(Told("long", 4, "right", ""), 0.6, number, late)
    assert not any(bears_out(Told(kind, 5, "right", ""), 0.6, number, late) for kind in ("early", "long", "missed"))
    assert not bears_out(Told("late", 7, "right", "tap"), 0.6, number, late)


def test_summing_the_likelihood_over_a_grid_is_least_squares_where_scatter_is_normal(monkeypatch):
    monkeypatch.setattr(heavy_oracle, "log_density", lambda apart: -(apart**2) / 2)
    plan, who = lay("rope_figure_eight", 5), Who("heavy", spread=0.03)
    late = answered(perform(plan, replace(who, family="cycle"), np.random.default_rng(4)))
    inverse = np.linalg.inv(covariance(plan, who))

    def ratio(shape):
        return abs(shape @ inverse @ late) - shape @ inverse @ shape / 2

    size = 0.04 * period_of(plan)
    for kept in (True, False):
        found = heavy_oracle.ratios(plan, who, late, long_by=size, kept=kept).cycles
        shapes = [shape_of(plan, who, Fault("long", cycle=c, by=size, kept=kept)) for c in range(plan.cycles)]
        np.testing.assert_allclose(found, [ratio(shape) for shape in shapes], atol=0.02)
    found = heavy_oracle.ratios(plan, who, late, late_by=np.full(len(late), size)).moments
    np.testing.assert_allclose(found, [ratio(size * (np.arange(len(late)) == k)) for k in range(len(late))], atol=0.02)


@pytest.mark.parametrize("drill", ["clubs_mills_two", "ball_toss_turn", "rope_wrap_release"])
def test_who_tells_the_truth_is_right(drill):
    draw = Draw(QUICK, lengths=(8, 16), spreads=((0.02, 0.03),))
    for way in WAYS:
        for performed, right in ways(drill, way, 3, draw):
            card = SimpleNamespace(plan=performed.take.plan, findings=(truth(performed),))
            assert is_right(card, performed, right), (way, performed.fault)


def truth(performed):
    fault, plan = performed.fault, performed.take.plan
    kind = "missed" if fault.kind == "both" else fault.kind
    told = {"ratio": fault.ratio, "by_ms": 1000 * fault.by}
    if fault.moment >= 0:
        told |= {name: getattr(plan.moments, name)[fault.moment] for name in ("cycle", "hand")} | {
            "moment": fault.moment
        }
    if kind in ("long", "short", "slipped"):
        told |= {"cycle": fault.cycle, "by_counts": fault.counts}
    if kind == "late_entry":
        told["by_counts"] = fault.cycle * plan.cycle_counts
    return finding(kind, **told)


@pytest.mark.parametrize(
    ("drill", "kind", "length", "family", "ends"),
    [
        ("clubs_mills_three", "long", 24, "step", 87.768255),
        ("rope_figure_eight", "late", 16, "heavy", 42.483702),
        ("ball_flip", "even", 24, "step", 101.265602),
    ],
)
def test_the_judging_takes_are_frozen(drill, kind, length, family, ends):
    # values of the day on which they were drawn: whoever changes one draws a new judging set, and says so
    (performed,) = cases(drill, kind, 1, Draw(JUDGING), first=7)
    assert (performed.take.plan.cycles, performed.who.family) == (length, family)
    assert performed.take.onsets.time[-1] == pytest.approx(ends, abs=1e-5)


def test_a_judging_way_of_going_wrong_is_frozen():
    performed, _ = next(ways("clubs_mills", "hesitated", 1, Draw(JUDGING)))
    assert (performed.take.plan.cycles, performed.who.family) == (24, "heavy")
    assert performed.take.onsets.time[-1] == pytest.approx(34.20695, abs=1e-5)


@pytest.mark.parametrize("kept", [True, False])
def test_a_long_and_a_short_cycle_are_both_done(kept):
    plan = lay("clubs_mills", 16)
    fault = replace(draw_single(plan, "long_and_short", np.random.default_rng(3)), kept=kept)
    assert abs(fault.cycle - fault.short) >= 2
    performed = perform(plan, Who(spread=1e-9, correction=1.0), np.random.default_rng(1), fault)
    first = np.array([np.flatnonzero(plan.moments.cycle == cycle)[0] for cycle in range(plan.cycles)])
    periods = np.diff(performed.take.onsets.time[performed.answer[first]]) / period_of(plan)
    assert periods[fault.cycle] == pytest.approx(1.2, abs=1e-6)
    assert periods[fault.short] == pytest.approx(0.8, abs=1e-6)
    told = [Told("long", fault.cycle, "", ""), Told("short", fault.short, "", "")]
    assert is_told(told, performed)
    assert not is_told(told[:1], performed)


def test_all_of_it_is_late_by_what_can_be_told_without_knowing_how_she_corrects_herself():
    draw, drawn = Draw(QUICK, lengths=(8, 32), spreads=((0.02, 0.05),)), 0
    for drill in ("clubs_mills", "ball_toss_turn", "ball_figure_eight", "rope_skips_double"):
        for performed, _ in ways(drill, "all_late", 6, draw):
            slowest = replace(performed.who, correction=0.25)
            sure = level_sd(performed.take.plan, slowest)
            assert performed.fault.by >= 4.5 * sure
            assert sure >= level_sd(performed.take.plan, performed.who)
            drawn += 1
    assert drawn >= 8


def test_worst_of_many_alike_is_worse_than_all_together():
    seen = [Seen(f"drill {k % 20}", 100, STILL, 0, elsewhere=int(k % 10 == 0)) for k in range(400)]
    assert false_per_1000(seen) == pytest.approx(1.0)
    # 20 drills of 2,000 cycles, two expected in each: most often the worst has five
    assert worst_by_chance(seen) == pytest.approx(2.5)


def test_intervals_of_bias_and_spread_are_held_against_what_is_true():
    plan = lay("ball_flip", 8)
    chance = np.random.default_rng(1)
    who = Who("wandering", 0.03, 0.3, 0.5)
    squares = [lateness(plan, who, *draw_noise(plan, who, chance)).var(ddof=1) for _ in range(1000)]
    assert true_spread(plan, who) == pytest.approx(np.mean(squares) ** 0.5, rel=0.05)
    bias, spread = cover(plan, "cycle", 60)
    assert min(bias.share, spread.share) > 0.85
    assert 0.5 < bias.half < 5
    assert 0.2 < spread.half < 2
