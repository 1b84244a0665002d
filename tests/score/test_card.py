"""The whole scorecard on takes whose answer is known."""

import json
import math
from dataclasses import fields, replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tempo_coach import coach
from tempo_coach.observe.take.onsets import Onsets, Take
from tempo_coach.reasons import Reason, Why
from tempo_coach.score.card import judge
from tempo_coach.score.measures.timekeeping import MEASURES
from tests.benchmarks.performer import Faults, Performer, perform

MILLS = coach.lay(coach.Request("clubs_mills", tempo_bpm=100, cycles=16))
ROPE = coach.lay(coach.Request("rope_figure_eight", tempo_bpm=100, cycles=16))
NAMES = {
    "bias_ms", "spread_ms", "n", "period_ratio_mean", "period_cv_pct", "scatter_pct", "period_rmssd_pct",
    "period_mean_ms",
    "period_sd_ms", "drift_pct_per_cycle", "cycles", "lags", "lag1_asynchrony", "clock_sd_ms", "motor_sd_ms",
    "clock_variance_ms2", "motor_variance_ms2", "missed",
    "extra",
    "missed_moments", "extra_onsets", "f_measure", "findings", "observed_by", "noise_floor_ms", "reasons", "detail",
}  # fmt: skip


def take(plan, times=None, **options):
    times = plan.moments.time if times is None else times
    return Take(plan, Onsets.unsorted(np.asarray(times).tolist(), plan.moments.hand), **options)


def drop(plan, which):
    keep = [k for k in range(len(plan.moments)) if k not in which]
    return Take(plan, Onsets(plan.moments.time[keep], tuple(plan.moments.hand[k] for k in keep)))


def flags(card):
    return {(c.cycle, c.hand): [str(flag) for flag in c.flags] for c in card.flagged}


@pytest.mark.parametrize("plan", [MILLS, ROPE])
def test_what_is_done_exactly_has_no_error(plan):
    card = judge(take(plan))
    assert card.value("bias_ms") == 0
    assert card.value("spread_ms") == 0
    assert card.measures["bias_ms"].n == len(plan.moments)
    assert card.value("period_ratio_mean") == pytest.approx(1)
    assert card.value("period_cv_pct") == pytest.approx(0, abs=1e-9)
    assert card.value("f_measure") == 1
    assert not card.flagged
    assert all(lag.lag.error == pytest.approx(0, abs=1e-6) for lag in card.lags)


@pytest.mark.parametrize("plan", [MILLS, ROPE])
@pytest.mark.parametrize("shift", [-0.08, 0.03, 0.12])
def test_a_constant_shift_is_bias_and_nothing_else(plan, shift):
    card = judge(take(plan, plan.moments.time + shift))
    assert card.value("bias_ms") == pytest.approx(1000 * shift)
    assert card.value("spread_ms") == pytest.approx(0, abs=1e-9)
    assert card.value("f_measure") == 1
    assert card.value("period_ratio_mean") == pytest.approx(1)
    assert not card.flagged


@pytest.mark.parametrize("plan", [MILLS, ROPE])
@pytest.mark.parametrize("scale", [0.9, 0.97, 1.04, 1.1])
def test_another_tempo_is_told_and_not_scored_as_all_missed(plan, scale):
    start = plan.moments.time[0]
    card = judge(take(plan, start + (plan.moments.time - start) * scale))
    assert card.value("period_ratio_mean") == pytest.approx(scale, abs=1e-6)
    assert len(card.missed) == len(card.extra_time) == 0
    assert not card.flagged
    assert card.findings[0].kind == "other_tempo"
    assert card.findings[0].ratio == pytest.approx(1 / scale, abs=1e-3)


@pytest.mark.parametrize("half", [0.5, -0.5])
def test_half_a_cycle_off_is_said_and_not_scored_as_all_missed(half):
    card = judge(take(ROPE, ROPE.moments.time + half * 2.4))
    assert card.findings[0].kind == "half_cycle_off"
    assert card.findings[0].by_counts == pytest.approx(4 * half, abs=1e-3)
    assert card.measures["bias_ms"].n == len(ROPE.moments)
    assert not card.flagged


def test_one_extra_onset_is_listed_with_its_place():
    onsets = Onsets.unsorted([*MILLS.moments.time.tolist(), 9.4], [*MILLS.moments.hand, "left"])
    card = judge(Take(MILLS, onsets))
    assert len(card.extra_time) == 1
    assert len(card.missed) == 0
    listed = card.to_dict()["extra_onsets"][0]
    assert listed["hand"] == "left"
    assert listed["time"] == pytest.approx(9.4)
    assert list(flags(card).values()) == [["extra"]]


def test_an_empty_take_is_null_with_reasons_and_never_0():
    card = judge(Take(MILLS, Onsets(np.array([]), ())))
    plain = card.to_dict()
    for name in [entry.key for entry in MEASURES[:-1]]:
        assert plain[name] is None
        assert plain["reasons"][name]
    assert plain["f_measure"] == 0
    assert plain["missed"] == len(MILLS.moments)
    assert plain["lags"] == []


def test_a_single_onset_has_a_bias_and_no_spread():
    card = judge(Take(MILLS, Onsets(MILLS.moments.time[:1] + 0.02, MILLS.moments.hand[:1])))
    plain = card.to_dict()
    assert plain["bias_ms"] == pytest.approx(20)
    assert plain["n"] == 1
    for name in ("spread_ms", "period_mean_ms", "period_cv_pct", "drift_pct_per_cycle", "lag1_asynchrony"):
        assert plain[name] is None
        assert plain["reasons"][name]


def test_the_names_of_the_json_are_those_that_were_promised():
    plain = json.loads(json.dumps(judge(take(MILLS)).to_dict()))
    assert set(plain) == NAMES
    cycle = plain["cycles"][0]
    assert set(cycle) == {"cycle", "eight", "count", "time", "hand", "period_ms", "period_ratio", "moments", "flags"}
    assert set(cycle["moments"][0]) == {"label", "async_ms"}
    lag = {"of", "to", "label", "asked_deg", "deg", "error_deg", "ms", "sd_deg", "R", "n", "ci95_deg"}
    assert set(plain["lags"][0]) == lag


def test_asynchronies_of_a_published_kind_come_through_the_whole_card():
    # the eight asynchronies whose measures are exact: mean -37.75, SD 7.741355, detrended lag-1 -0.789988
    plan = coach.lay(coach.Request("rope_figure_eight", tempo_bpm=100, cycles=8))
    only = [k for k in range(len(plan.moments)) if plan.moments.label[k] == "low"]
    one = replace(
        plan,
        moments=replace(
            plan.moments,
            time=plan.moments.time[only], cycle=plan.moments.cycle[only], count=plan.moments.count[only],
            asked_lag_deg=plan.moments.asked_lag_deg[only], cue=plan.moments.cue[only],
            hand=("right",) * 8, label=("low",) * 8, kind=("circle",) * 8,
        ),
    )  # fmt: skip
    off = np.array([-35, -42, -28, -51, -30, -44, -39, -33]) / 1000
    card = judge(Take(one, Onsets(one.moments.time + off, ("right",) * 8)))
    assert card.value("bias_ms") == pytest.approx(-37.75)
    assert card.value("spread_ms") == pytest.approx(7.741355, abs=1e-6)
    assert card.value("lag1_asynchrony") == pytest.approx(-0.789988, abs=1e-6)
    assert card.value("period_mean_ms") == pytest.approx(2400 + 2 / 7)
    assert card.value("period_sd_ms") == pytest.approx(15.660080, abs=1e-6)


@pytest.mark.parametrize("plan", [MILLS, ROPE])
def test_a_long_cycle_is_long_and_no_moment_is_to_blame(plan):
    found = 0
    for seed in range(20):
        who = Performer(clock=0.004, motor=0.004)
        card = judge(perform(plan, who, np.random.default_rng(seed), faults=Faults(long_cycle=7)))
        kinds = {flag.kind for c in card.cycles if c.cycle == 7 for flag in c.flags}
        found += "long" in kinds
        assert kinds <= {"long"}
    assert found == 20


@pytest.mark.parametrize("plan", [MILLS, ROPE])
def test_a_late_circle_is_late_and_no_cycle_is_to_blame(plan):
    for seed in range(20):
        who = Performer(clock=0.004, motor=0.004)
        card = judge(perform(plan, who, np.random.default_rng(seed), faults=Faults(late_cycle=7, late_by=0.08)))
        told = {(c.cycle, flag.kind) for c in card.flagged for flag in c.flags}
        assert (7, "late") in told
        assert not {kind for _, kind in told} & {"long", "short", "missed", "extra"}


def test_the_demos_circle_that_is_far_beyond_the_reach_is_late_and_not_missed():
    times = ROPE.moments.time.copy()
    last = np.flatnonzero(ROPE.moments.cycle == 9)[-1]
    times[last] += 0.4
    card = judge(take(ROPE, times))
    assert len(card.missed) == 0
    assert flags(card) == {(9, "right"): ["late: high 2"]}
    assert card.flagged[0].flags[0].by == pytest.approx(0.4)


def test_a_difference_that_cannot_be_heard_is_no_fault():
    times = MILLS.moments.time.copy()
    times[10] += 0.024 * 1.2
    assert not judge(take(MILLS, times)).flagged
    times[10] += 0.016 * 1.2
    assert flags(judge(take(MILLS, times))) == {(5, "right"): ["late: circle"]}


def test_music_that_slows_is_not_charged_to_her():
    moments = MILLS.moments
    bent = moments.time + 0.002 * (moments.time - moments.time[0]) ** 2
    plan = replace(MILLS, moments=replace(moments, time=bent))
    card = judge(take(plan))
    assert card.value("period_cv_pct") == pytest.approx(0, abs=1e-9)
    assert card.value("period_sd_ms") > 5
    assert card.value("drift_pct_per_cycle") == pytest.approx(0, abs=1e-9)


def test_slowing_down_is_a_positive_drift():
    moments = MILLS.moments
    for sign in (1, -1):
        times = moments.time + sign * 0.6 * 0.004 * moments.cycle * (moments.cycle - 1)
        drift = judge(take(MILLS, times)).measures["drift_pct_per_cycle"]
        assert drift.value == pytest.approx(sign * 0.4, rel=0.05)


def cue_free(plan):
    return replace(plan, moments=replace(plan.moments, cue=np.zeros(len(plan.moments), dtype=bool)))


def test_clock_and_movement_are_split_only_where_the_model_holds():
    long = cue_free(coach.lay(coach.Request("clubs_mills", tempo_bpm=100, cycles=200)))
    who = Performer(gain=0.0, clock=0.02, motor=0.015)
    tapped = judge(perform(long, who, np.random.default_rng(1), observed_by="tap"))
    assert tapped.value("clock_sd_ms") == pytest.approx(24, rel=0.25)
    assert tapped.value("motor_sd_ms") == pytest.approx(18, rel=0.3)
    filmed = judge(perform(long, who, np.random.default_rng(1), observed_by="film"))
    assert math.isnan(filmed.value("clock_sd_ms"))
    assert filmed.reasons["clock_sd_ms"] == Reason(Why.NOT_TAPPED, ("film",))
    cued = coach.lay(coach.Request("clubs_mills", tempo_bpm=100, cycles=200))
    assert (
        judge(perform(cued, who, np.random.default_rng(1), observed_by="tap")).reasons["motor_sd_ms"].code
        is Why.FEW_FREE_PERIODS
    )
    short = judge(perform(cue_free(MILLS), who, np.random.default_rng(1), observed_by="tap"))
    assert short.reasons["motor_sd_ms"].code is Why.FEW_FREE_PERIODS


def test_the_first_cycles_without_a_cue_are_kept_out_of_the_drift():
    cue = MILLS.moments.cycle < 8
    plan = replace(MILLS, moments=replace(MILLS.moments, cue=cue))
    times = MILLS.moments.time - np.clip(MILLS.moments.cycle - 7, 0, 2) * 0.08
    assert judge(take(plan, times)).measures["drift_pct_per_cycle"].n == 13
    assert judge(take(MILLS, times)).measures["drift_pct_per_cycle"].n == 15


def test_the_take_in_parts():
    moments = MILLS.moments
    late = np.where(np.array(moments.hand) == "left", 0.05, 0.0)
    plan = replace(MILLS, moments=replace(moments, cue=moments.cycle < 8))
    card = judge(take(plan, moments.time + late))
    parts = card.parts
    assert [(p.name, round(p.bias * 1000)) for p in parts["hand"]] == [("right", 0), ("left", 50)]
    assert [p.name for p in parts["cues"]] == ["with cues", "without cues"]
    assert sum(p.n for p in parts["eight"]) == sum(p.n for p in parts["count"]) == len(moments)
    assert [p.name for p in parts["circle"]] == ["right circle", "left circle"]


def test_a_fading_cue_makes_three_blocks():
    cycle = MILLS.moments.cycle
    cue = (cycle < 5) | ((cycle < 11) & (cycle % 2 == 0))
    card = judge(take(replace(MILLS, moments=replace(MILLS.moments, cue=cue))))
    assert [p.name for p in card.parts["cues"]] == ["with cues", "thinned cues", "without cues"]


def test_the_noise_of_observing_is_shown_or_null_with_a_reason():
    assert judge(take(MILLS, noise_floor_ms=9.6, observed_by="film")).to_dict()["noise_floor_ms"] == 9.6
    unknown = judge(take(MILLS, observed_by="voice"))
    assert unknown.to_dict()["noise_floor_ms"] is None
    assert unknown.reasons["noise_floor_ms"] == Reason(Why.FLOOR_NOT_MEASURED, ("voice",))


def test_the_interval_of_the_bias_is_wider_for_one_who_corrects_slowly():
    plan = coach.lay(coach.Request("clubs_mills", tempo_bpm=100, cycles=48))

    def width(gain, clock):
        found = []
        for seed in range(10):
            card = judge(perform(plan, Performer(gain=gain, clock=clock), np.random.default_rng(seed)))
            bias = card.measures["bias_ms"]
            found.append((bias.high - bias.low) / card.value("spread_ms"))
        return np.median(found)

    assert width(0.2, 0.03) > 1.5 * width(1.0, 0.01)


@given(st.lists(st.floats(-0.2, 0.2), min_size=len(MILLS.moments), max_size=len(MILLS.moments)))
def test_whatever_is_done_nothing_is_counted_twice(offs):
    card = judge(take(MILLS, MILLS.moments.time + np.array(offs)))
    paired = card.measures["bias_ms"].n
    assert paired + len(card.missed) == len(MILLS.moments)
    assert paired + len(card.extra_time) == len(MILLS.moments)
    json.dumps(card.to_dict(), allow_nan=False)


@pytest.mark.parametrize("plan", [MILLS, ROPE])
def test_a_cycle_is_placed_where_its_first_moment_is(plan):
    card = judge(take(plan))
    for one in card.cycles:
        hers = [k for k in plan.moments.of_hand(one.hand) if plan.moments.cycle[k] == one.cycle]
        place = plan.place(float(plan.moments.count[hers].min()))
        assert (one.eight, one.count) == (place.eight, place.count)


def test_a_plan_without_moments_says_so_and_measures_nothing():
    nothing = {field.name: getattr(MILLS.moments, field.name)[:0] for field in fields(MILLS.moments)}
    card = judge(Take(replace(MILLS, moments=replace(MILLS.moments, **nothing)), Onsets(np.array([]), ())))
    assert set(card.notes) == {"moments"}
    assert math.isnan(card.measures["f_measure"].value) and card.measures["f_measure"].n == 0
