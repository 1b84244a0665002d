"""A group: exact values, chance by random numbers, and simulated groups whose leader is known."""

import math
from dataclasses import replace

import numpy as np
import pytest

from tempo_coach import coach
from tempo_coach.music.counts.count_map import CountMap
from tempo_coach.observe.take.onsets import Onsets, Take
from tempo_coach.pattern.plan.every_count import lay_every_count
from tempo_coach.reasons import Reason, Why
from tempo_coach.report.words.group import format_group
from tempo_coach.report.words.group_sentence import tell_group
from tempo_coach.report.words.reasons import say_reason
from tempo_coach.score.group.canon import shift_take
from tempo_coach.score.group.group import (
    chance_order_parameter,
    judge_group,
    order_parameter,
)
from tempo_coach.score.group.one_recording import judge_mix
from tempo_coach.score.measures.circular import mean_direction
from tempo_coach.score.measures.period import spread
from tests.refused import refused

PLAN = coach.lay(coach.Request("clubs_mills", tempo_bpm=100, cycles=24))
NAMES = ("Ada", "Bea", "Cyl", "Dor", "Eva")  # invented


def take(times):
    return Take(PLAN, Onsets.unsorted(np.asarray(times).tolist(), PLAN.moments.hand))


def group(biases, sd=0.012, seed=1):
    generator = np.random.default_rng(seed)
    moments = PLAN.moments.time
    return {
        name: take(moments + bias + generator.normal(0, sd, len(moments)))
        for name, bias in zip(NAMES, biases, strict=False)
    }


def test_order_parameter_and_offsets_of_phases():  # exact
    phases = np.array([0, 10, -5, 20, -15.0])
    assert order_parameter(phases[:, None])[0] == pytest.approx(0.977913, abs=1e-6)
    mean = mean_direction(phases)
    assert mean == pytest.approx(1.988863, abs=1e-6)
    assert phases - mean == pytest.approx([-1.988863, 8.011137, -6.988863, 18.011137, -16.988863], abs=1e-6)


def test_one_moment_of_five():  # exact
    onsets = np.array([0, 12, -8, 25, -15.0])
    assert order_parameter(onsets[:, None] / 500 * 360)[0] == pytest.approx(0.983987, abs=1e-6)
    assert onsets.mean() == pytest.approx(2.8)
    assert spread(onsets) == pytest.approx(15.959323, abs=1e-6)
    assert onsets.max() - onsets.min() == 40
    apart = np.abs(np.subtract.outer(onsets, onsets))[np.triu_indices(5, k=1)]
    assert apart.mean() == pytest.approx(20)


def test_order_parameter_of_known_patterns():  # exact
    evenly = np.arange(5) * 72.0
    assert order_parameter(evenly[:, None])[0] == pytest.approx(0, abs=1e-12)
    assert order_parameter(np.array([0, 0, 0, 0, 180.0])[:, None])[0] == pytest.approx(0.6)


def test_the_order_parameter_of_chance_is_not_0():
    # five unit steps in a plane go 2.0082 far on average (Borwein et al. on short random walks, from memory): 0.4016
    assert chance_order_parameter(5) == pytest.approx(2.0082 / 5, abs=1e-4)
    assert chance_order_parameter(1) == pytest.approx(1, abs=1e-4)
    assert chance_order_parameter(2) == pytest.approx(2 / math.pi, abs=1e-6)
    generator = np.random.default_rng(2)
    for n in (2, 3, 5, 12, 30):
        random = order_parameter(generator.uniform(0, 360, (n, 100_000)))
        assert chance_order_parameter(n) == pytest.approx(random.mean(), abs=2.5e-3)


def test_everyone_is_placed_against_the_group_and_against_the_music():
    card = judge_group(group([0, 0, 0.08, 0, 0]))
    late = card.members[2]
    assert late.bias == pytest.approx(0.08, abs=0.006)
    assert late.offset == pytest.approx(0.064, abs=0.006)
    assert late.n == len(PLAN.moments)
    assert card.resultant > 0.95  # steadily late is in phase: offsets say what the order parameter cannot
    assert card.width == pytest.approx(0.08, abs=0.03)
    assert "Cyl is" in tell_group(card)
    assert "behind" in tell_group(card)


def test_the_names_of_the_json_are_those_that_were_promised():
    plain = judge_group(group([0, 0.02])).to_dict()
    names = {"members", "group_r", "group_r_chance", "group_sd_ms", "group_range_ms", "apart", "pairs"}
    assert set(plain) == names | {"left", "canon", "reasons", "detail"}
    assert set(plain["members"][0]) == {"member", "bias_ms", "offset_ms", "spread_ms", "n"}
    assert set(plain["pairs"][0]) == {"a", "b", "follows", "gain", "n", "ci95"}


def test_perfect_and_shifted_groups():
    moments = PLAN.moments.time
    card = judge_group({name: take(moments + 0.05) for name in NAMES})
    assert card.resultant == pytest.approx(1)
    assert card.width == pytest.approx(0, abs=1e-9)
    assert not card.apart
    assert all(m.offset == pytest.approx(0, abs=1e-9) for m in card.members)
    assert all(m.bias == pytest.approx(0.05) for m in card.members)
    assert "50 ms behind the cues" in tell_group(card)


def test_the_moment_where_it_fell_apart_is_placed():
    takes = group([0, 0, 0, 0, 0])
    times = np.array(takes["Bea"].onsets.time)
    times[20] += 0.25
    takes["Bea"] = take(times)
    card = judge_group(takes)
    place = PLAN.place(float(PLAN.moments.count[20]))
    assert [(a.eight, a.count) for a in card.apart] == [(place.eight, place.count)]
    assert card.apart[0].width == pytest.approx(0.25, abs=0.05)
    assert f"eight {place.eight}" in tell_group(card)


def test_a_canon_is_late_on_purpose():
    takes = group([0, 0, 0])
    takes["Cyl"] = take(takes["Cyl"].onsets.time + 4 * 0.6)
    card = judge_group(takes, shifts={"Cyl": 4})
    assert abs(card.members[2].offset) < 0.01


def test_the_way_of_the_sound_is_taken_off():
    card = judge_group(group([0, 0.029]), metres={"Bea": 10})
    assert card.members[1].bias == pytest.approx(0, abs=0.006)


def test_a_missing_member_at_some_moments_is_left_out_there():
    takes = group([0, 0.03, 0])
    half = len(PLAN.moments) // 2
    onsets = takes["Bea"].onsets
    takes["Bea"] = Take(PLAN, Onsets(onsets.time[:half], onsets.hand[:half]))
    card = judge_group(takes)
    assert card.members[1].n == half
    assert card.members[1].offset == pytest.approx(0.02, abs=0.006)


def test_what_cannot_be_a_group_is_said():
    with refused("2 to 30 members, got 1"):
        judge_group({"Ada": take(PLAN.moments.time)})
    other = coach.lay(coach.Request("clubs_mills", tempo_bpm=100, cycles=8))
    short = Take(other, Onsets(other.moments.time, other.moments.hand))
    with refused("plans of Ada and Bea differ"):
        judge_group({"Ada": take(PLAN.moments.time), "Bea": short})
    drill = coach.lay(coach.Request("rope_figure_eight", tempo_bpm=100, cycles=8))
    rope = Take(drill, Onsets(drill.moments.time, drill.moments.hand))
    with refused("one drill"):
        judge_group({"Ada": take(PLAN.moments.time), "Bea": rope})
    nothing = Take(PLAN, Onsets(np.array([]), ()))
    with refused("no two members"):
        judge_group({"Ada": nothing, "Bea": nothing})
    with refused("found Zoe"):
        judge_group(group([0, 0]), metres={"Zoe": 3})


def test_the_page_of_a_group_fits_the_terminal():
    text = format_group(judge_group(group([0, 0.02, 0.3, -0.2, 0])))
    assert max(len(line) for line in text.splitlines()) <= 80
    for name in NAMES:
        assert name in text


def test_moments_of_a_canon_go_on_behind_the_end_at_its_last_tempo():
    # two seconds a count at first, then a quarter
    plan = replace(PLAN, knot_times=np.array([0.0, 64.0, 68.0]), knot_counts=np.array([-8.0, 24.0, 40.0]))
    shifted = shift_take(Take(plan, Onsets([], ())), 8.0).plan.moments
    wanted = plan.moments.count + 8
    first, last = wanted <= 24, wanted > 40
    assert last.sum() > 3
    np.testing.assert_allclose(shifted.time[first], (wanted[first] + 8) * 2)
    np.testing.assert_allclose(shifted.time[last], 68 + (wanted[last] - 40) / 4)
    untouched = take(PLAN.moments.time)
    assert shift_take(untouched, 0.0) is untouched


def test_moment_is_apart_from_twice_the_allowance_on():
    cycle = float(PLAN.moments.time[PLAN.moments.cycle == 1].min() - PLAN.moments.time[PLAN.moments.cycle == 0].min())
    limit = 2 * PLAN.allowance * cycle
    moments = PLAN.moments.time
    late = np.zeros(len(moments))
    late[[5, 12]] = 0.99 * limit, 1.01 * limit
    card = judge_group({"Ada": take(moments), "Bea": take(moments + late)})
    place = PLAN.place(float(PLAN.moments.count[12]))
    assert [(one.eight, one.count) for one in card.apart] == [(place.eight, place.count)]
    assert card.apart[0].width == pytest.approx(1.01 * limit)


def test_onset_in_the_middle_between_two_moments_belongs_to_neither():
    # the moments of a cycle are half a cycle apart, so a third of a cycle is beyond what is one moment
    moments = PLAN.moments.time
    cycle = float(np.diff(np.unique(moments[PLAN.moments.cycle <= 1]))[0]) * 2
    both = np.concatenate([moments, moments + 0.02 * cycle, moments[-1:] + 0.31 * cycle])
    card = judge_mix(Take(PLAN, Onsets.unsorted(both.tolist(), ["right"] * len(both))))
    assert card.width == pytest.approx(0.02 * cycle)
    near = np.concatenate([both[:-1], moments[-1:] + 0.29 * cycle])
    wider = judge_mix(Take(PLAN, Onsets.unsorted(near.tolist(), ["right"] * len(near))))
    assert wider.width == pytest.approx((0.02 * (len(moments) - 1) + 0.29) * cycle / len(moments))


@pytest.mark.parametrize(("missing", "hers_to_hear", "hers_to_change"), [(0, 23, 23), (1, 23, 23), (2, 22, 21)])
def test_cycle_counts_for_following_while_one_of_its_moments_is_there(missing, hers_to_hear, hers_to_change):
    takes = group([0, 0])
    hers = PLAN.moments.time + np.random.default_rng(8).normal(0, 0.01, len(PLAN.moments))
    gone = np.flatnonzero(PLAN.moments.cycle == 9)[:missing]
    hands = [hand for k, hand in enumerate(PLAN.moments.hand) if k not in gone]
    takes["Bea"] = Take(PLAN, Onsets.unsorted(np.delete(hers, gone).tolist(), hands))
    card = judge_group(takes)
    assert [(pair.a, pair.b, pair.n) for pair in card.pairs] == [
        ("Ada", "Bea", hers_to_change),  # a change needs the cycle before it and its own
        ("Bea", "Ada", hers_to_hear),
    ]
    assert all(math.isfinite(pair.gain) for pair in card.pairs)
    assert card.members[1].n == len(PLAN.moments) - missing


def test_measures_of_two_who_are_always_as_far_apart():  # exact: of 0 and 30 ms the SD is 30 / √2, the range 30
    moments = PLAN.moments.time
    card = judge_group({"Ada": take(moments), "Bea": take(moments + 0.03)})
    assert (card.sd, card.width) == pytest.approx((0.03 / math.sqrt(2), 0.03))
    cycle = float(np.diff(np.unique([PLAN.moments.time[PLAN.moments.cycle == c].min() for c in (0, 1)]))[0])
    assert card.resultant == pytest.approx(math.cos(math.pi * 0.03 / cycle))
    mixed = judge_mix(Take(PLAN, Onsets.unsorted([*moments, *(moments + 0.03)], list(PLAN.moments.hand) * 2)))
    assert (mixed.sd, mixed.width, mixed.resultant) == pytest.approx((card.sd, card.width, card.resultant))
    assert math.isnan(mixed.chance) and set(mixed.reasons) == {"members", "group_r_chance"}


def test_nobody_has_no_order():
    with pytest.raises(ValueError, match="at least one phase, got 0"):
        chance_order_parameter(0)


def test_a_single_cycle_takes_its_period_from_the_plan():
    one = coach.lay(coach.Request("clubs_mills", tempo_bpm=100, cycles=1))
    length = one.duration - one.start
    late = [Take(one, Onsets.unsorted((one.moments.time + by).tolist(), one.moments.hand)) for by in (0.0, 0.06)]
    card = judge_group(dict(zip("ab", late, strict=True)))
    assert card.resultant == pytest.approx(math.cos(math.pi * 0.06 / length))
    both = np.concatenate([take.onsets.time for take in late])
    mixed = judge_mix(Take(one, Onsets.unsorted(both.tolist(), one.moments.hand * 2)))
    assert mixed.resultant == pytest.approx(card.resultant)


def test_plans_may_differ_by_a_thousandth_of_a_second():
    moments = PLAN.moments
    for by, held in ((0.0009, True), (0.0011, False)):
        moved = replace(PLAN, moments=replace(moments, time=moments.time + by))
        other = Take(moved, Onsets.unsorted(moments.time.tolist(), moments.hand))
        if held:
            assert len(judge_group({"Ada": take(moments.time), "Bea": other}).members) == 2
        else:
            with refused("the plans of Ada and Bea differ"):
                judge_group({"Ada": take(moments.time), "Bea": other})


@pytest.mark.parametrize(("cycles", "told"), [(19, False), (20, True)])
def test_under_twenty_cycles_it_is_said_why_nobody_follows(cycles, told):
    plan = coach.lay(coach.Request("clubs_mills", tempo_bpm=100, cycles=cycles))
    generator = np.random.default_rng(2)
    times = plan.moments.time + generator.normal(0, 0.01, (2, len(plan.moments)))
    card = judge_group(
        {
            name: Take(plan, Onsets.unsorted(row.tolist(), plan.moments.hand))
            for name, row in zip("ab", times, strict=True)
        }
    )
    reason = None if told else Reason(Why.FEW_CYCLES, (2, 20, 19))
    assert card.reasons.get("pairs") == reason
    assert math.isfinite(card.pairs[0].gain) is told


def test_moment_is_apart_where_it_stands_out_of_what_is_usual_here():
    """Two who are usually 0 to 0.2 s apart have fallen apart at 0.5 s and not at 0.2 s, though that is far to hear."""
    moments = PLAN.moments.time
    by = np.linspace(0, 0.2, len(moments))
    by[20] = 0.5
    card = judge_group({"Ada": take(moments - by / 2), "Bea": take(moments + by / 2)})
    place = PLAN.place(float(PLAN.moments.count[20]))
    assert [(one.eight, one.count) for one in card.apart] == [(place.eight, place.count)]


def test_who_left_is_placed_in_eights_and_counts_also_beside_one_who_is_always_late():
    takes = group([0, 0, 0.08, 0, 0])
    late = np.zeros(len(PLAN.moments))
    late[20:28] = 0.2  # two moments a cycle of two counts: from eight 3 count 5 on
    takes["Eva"] = take(takes["Eva"].onsets.time + late)
    card = judge_group(takes)
    (one,) = card.left
    first, last = (PLAN.place(float(PLAN.moments.count[k])) for k in (20, 27))
    assert (one.member, one.from_eight, one.from_count) == ("Eva", first.eight, first.count)
    assert (one.to_eight, one.to_count) == (last.eight, last.count)
    assert one.offset == pytest.approx(0.2, abs=0.02) and one.n == 8
    said = tell_group(card)
    assert f"Eva, eight {first.eight} count" in said and "ms late" in said and "Cyl is" in said
    assert card.members[2].median_offset == pytest.approx(0.08, abs=0.01)
    assert abs(card.members[4].median_offset) < 0.01
    plain = card.to_dict()["left"][0]
    assert set(plain) == {"member", "from", "to", "offset_ms", "spread_ms", "uneven", "n"}
    assert plain["from"] == {"eight": first.eight, "count": first.count}


def test_a_canon_that_nobody_declared_is_judged_as_one_and_said():
    takes = group([0, 0, 0])
    eva = takes.pop("Cyl").onsets
    takes["Eva"] = Take(PLAN, Onsets(eva.time + 4 * 0.6, eva.hand))
    card = judge_group(takes)
    assert card.canon == {"Eva": 4}
    assert not card.left and not card.apart
    assert abs(card.members[2].offset) < 0.01
    assert "Eva 4 counts behind the others" in tell_group(card)
    assert card.to_dict()["canon"] == [{"member": "Eva", "counts": 4}]


def test_without_music_nobody_is_behind_it_and_eights_begin_with_their_own_beat():
    plan = lay_every_count(CountMap.steady(120), end=23.9, tempo_bpm=120)
    times = 1.168 + np.arange(48) * 0.5
    late = np.zeros((3, 48))
    late[2, 18:22] = 0.15  # eight 3 counts 3 to 6
    takes = {
        name: Take(plan, Onsets.unsorted((times + row).tolist(), ["body"] * 48))
        for name, row in zip(NAMES, late + np.random.default_rng(1).normal(0, 0.01, (3, 48)), strict=False)
    }
    card = judge_group(takes, own_clock=True)
    assert all(math.isnan(member.bias) for member in card.members)
    assert card.reasons["bias_ms"] == Reason(Why.NO_MUSIC)
    assert "music" not in tell_group(card).replace("no music", "") and "168" not in format_group(card)
    (one,) = card.left
    assert (one.member, one.from_eight, one.from_count, one.to_count) == ("Cyl", 3, 3, 6)
    assert card.to_dict()["members"][0]["bias_ms"] is None


def test_one_who_did_nothing_or_whose_clock_is_another_is_said_and_the_others_are_judged():
    takes = group([0, 0.02, 0])
    takes["Dor"] = Take(PLAN, Onsets(np.array([]), ()))
    takes["Eva"] = take(PLAN.moments.time + 7200)
    card = judge_group(takes)
    assert [member.n for member in card.members] == [48, 48, 48, 0, 0]
    assert card.reasons["member Dor"] == Reason(Why.NEVER_THERE, ("Dor",))
    assert card.reasons["member Eva"].code is Why.ELSEWHERE and "check her clock" in say_reason(
        card.reasons["member Eva"]
    )
    assert card.members[1].median_offset == pytest.approx(0.02, abs=0.006)
    assert {pair.follows is None for pair in card.pairs if {pair.a, pair.b} <= {"Ada", "Bea", "Cyl"}} == {False}
    assert max(map(len, format_group(card).splitlines())) <= 80


def test_two_onsets_at_one_instant_are_one_and_that_is_said():
    takes = group([0, 0, 0])
    onsets = takes["Bea"].onsets
    doubled = Take(PLAN, Onsets.unsorted([*onsets.time, onsets.time[7]], [*onsets.hand, onsets.hand[7]]))
    once, twice = judge_group(takes), judge_group({**takes, "Bea": doubled})
    assert twice.members == once.members
    assert twice.reasons["onsets of Bea"] == Reason(Why.DOUBLE_ONSETS, ("Bea", 1))
    both = PLAN.moments.time.repeat(2)[::2]
    assert judge_group({**takes, "Bea": take(np.full(len(both), both[0]))}).members[1].n <= len(PLAN.hands)


def test_an_onset_before_they_begin_puts_nobody_a_whole_count_off():
    plan = lay_every_count(CountMap.steady(60), end=23.9, tempo_bpm=60)
    times = np.arange(24.0)
    takes = {
        name: Take(plan, Onsets.unsorted(row.tolist(), ["body"] * len(row)))
        for name, row in {"Ada": times, "Bea": np.append(times + 0.06, -0.94), "Cyl": times[1:] + 0.01}.items()
    }
    card = judge_group(takes)
    assert [member.bias for member in card.members] == pytest.approx([0, 0.06, 0.01], abs=1e-6)
    assert [member.n for member in card.members] == [24, 24, 23]
