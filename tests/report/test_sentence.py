"""What is said: one rule at a time, each on a take whose one thing is known."""

import math
import re
from dataclasses import replace

import numpy as np
import pytest

from tempo_coach import coach
from tempo_coach.observe.onsets import Onsets, Take
from tempo_coach.pattern.counts import say_count
from tempo_coach.report.sentence import tell, tell_cycle
from tempo_coach.report.words import card_to_dict
from tempo_coach.score.card import judge
from tempo_coach.score.scorecard import Flag, Measure
from tests.benchmarks.performer import Performer, perform
from tests.report.takes import MILLS, ROPE, card, late


def test_a_good_take_is_called_good_with_its_numbers():
    said = tell(card(MILLS))
    assert said.startswith("Even and in time")
    assert "ms" in said


def test_nothing_observed():
    assert tell(judge(Take(MILLS, Onsets(np.array([]), ())))).startswith("Nothing to tell")


@pytest.mark.parametrize(("cycles", "said"), [(1, "a whole cycle late"), (-1, "a whole cycle early")])
def test_a_slip(cycles, said):
    assert said in tell(card(MILLS, cycles * 1.2))


def test_half_a_cycle_off():
    assert "half a cycle off" in tell(card(ROPE, 1.2))


@pytest.mark.parametrize(("scale", "said"), [(0.95, "run ahead"), (1.05, "fall behind")])
def test_another_tempo(scale, said):
    start = MILLS.moments.time[0]
    told = tell(card(MILLS, times=start + (MILLS.moments.time - start) * scale))
    assert said in told
    assert "5." in told or "4.9%" in told


def test_under_eight_cycles_it_is_too_few_to_tell():
    plan = coach.lay(coach.Request("clubs_mills", tempo_bpm=100, cycles=7))
    said = tell(card(plan, 0.06))
    assert said == "7 cycles are too few to tell what is usual: do 8 or more in a row."
    one = coach.lay(coach.Request("clubs_mills", tempo_bpm=100, cycles=1))
    assert tell(card(one)).startswith("1 cycle is too few")


def test_an_unmistakable_fault_is_named_all_the_same():
    plan = coach.lay(coach.Request("rope_figure_eight", tempo_bpm=100, cycles=7))
    said = tell(card(plan, late(plan, 10, 0.3)))
    assert "too few to tell" in said
    assert "cycle 4, eight 2 count" in said
    assert "late" in said


def test_a_take_that_was_broken_off_is_too_few_and_not_a_row_of_faults():
    said = tell(card(MILLS, keep=range(9)))
    assert said == "5 cycles are too few to tell what is usual: do 8 or more in a row."


def test_many_missed():
    said = tell(card(MILLS, keep=[k for k in range(32) if k % 6]))
    assert said.startswith("6 of 32 moments are missing")


@pytest.mark.parametrize(
    ("by", "said", "advice"), [(0.09, "too late", "come sooner"), (-0.09, "too early", "wait for it")]
)
def test_one_circle_off_in_every_cycle(by, said, advice):
    high = [k for k, label in enumerate(ROPE.moments.label) if label == "high 1"]
    told = tell(card(ROPE, late(ROPE, high, by)))
    assert "“high 1”" in told
    assert said in told
    assert advice in told
    assert "90 ms" in told or "9" in told


def test_the_second_club_off_in_every_cycle():
    left = [k for k, hand in enumerate(MILLS.moments.hand) if hand == "left"]
    told = tell(card(MILLS, late(MILLS, left, 0.08)))
    assert told.startswith("The left circle comes too late in every cycle")
    assert "instead of 180°" in told


def test_a_lag_that_cannot_be_heard_is_no_fault():
    left = [k for k, hand in enumerate(MILLS.moments.hand) if hand == "left"]
    assert tell(card(MILLS, late(MILLS, left, 0.02))).startswith("Even and in time")


def test_one_broken_cycle_is_told_with_its_place():
    off = late(MILLS, MILLS.moments.cycle > 4, 0.24)
    told = tell(card(MILLS, off))
    assert re.search(r"cycle 5, eight 2 count [23]: the cycle of the (right|left) hand was (19|20|21)% too long", told)


def test_a_late_circle_in_words():
    which = 10
    made = card(MILLS, late(MILLS, which, 0.15))
    (broken,) = made.flagged
    place = MILLS.place(float(MILLS.moments.count[which]))
    said = tell_cycle(made, broken)
    assert said.startswith(f"cycle 6, eight {place.eight} count {place.count:g}: the right circle came 1")
    assert said.endswith("ms late")
    assert "The others are even" in tell(made)


def test_missed_and_extra_in_words():
    made = card(MILLS, keep=[k for k in range(32) if k != 12])
    assert tell_cycle(made, made.flagged[0]).endswith("the right circle was missed")
    onsets = Onsets.unsorted([*MILLS.moments.time.tolist(), 9.4], [*MILLS.moments.hand, "left"])
    made = judge(Take(MILLS, onsets))
    assert tell_cycle(made, made.flagged[0]).endswith("one too many with the left hand")


def test_a_cycle_that_is_in_time_has_no_words():
    made = card(MILLS)
    assert [tell_cycle(made, cycle) for cycle in made.cycles] == [""] * len(made.cycles)


@pytest.mark.parametrize(("sign", "said"), [(1, "slow down"), (-1, "speed up")])
def test_drift(sign, said):
    cycle = MILLS.moments.cycle
    times = MILLS.moments.time + sign * 0.6 * 0.003 * (cycle - 8.0) ** 2
    told = tell(card(MILLS, times=times, sd=0.004))
    assert said in told
    assert "over 15 cycles" in told


def test_all_of_it_late():
    told = tell(card(MILLS, 0.09))
    assert "all of it is late" in told
    assert "earlier" in told


def test_a_tap_a_little_ahead_is_usual():
    # people tap several tens of ms ahead of a click without knowing (Aschersleben 2002, abstract)
    assert tell(card(MILLS, -0.04, observed_by="tap")).startswith("Even and in time")
    assert "all of it is early" in tell(card(MILLS, -0.09, observed_by="tap"))
    assert "all of it is early" in tell(card(MILLS, -0.04, observed_by="film"))


def test_praise_only_beyond_chance():
    before = judge(perform(MILLS, Performer(clock=0.04, motor=0.03), np.random.default_rng(1)))
    after = judge(perform(MILLS, Performer(clock=0.008, motor=0.006), np.random.default_rng(2)))
    same = judge(perform(MILLS, Performer(clock=0.038, motor=0.028), np.random.default_rng(3)))
    assert tell(after, before).startswith("Better: your cycles are more even")
    assert not tell(same, before).startswith("Better")
    assert not tell(before, after).startswith("Better")
    assert "sentence" in card_to_dict(after, before)


GOOD = card(MILLS)


def with_measures(made=GOOD, **values):
    return replace(made, measures={**made.measures, **values})


@pytest.mark.parametrize(
    ("values", "said"),
    [
        (
            {"period_cv_pct": Measure(1.26, 15), "spread_ms": Measure(7.6, 32)},
            "Even and in time: cycles differ by 1.3 %, moments by 8 ms. Fewer cues next.",
        ),
        (
            {"period_cv_pct": Measure(math.nan, 0), "spread_ms": Measure(7.4, 32)},
            "In time: 7 ms of spread. Fewer cues next.",
        ),
        (
            {"period_ratio_mean": Measure(0.9476, 15, 0.94, 0.955)},
            "You run ahead of the count: your cycles are 5.2% short on average. Wait for the ones.",
        ),
        (
            {"period_ratio_mean": Measure(1.0624, 15, 1.05, 1.07)},
            "You fall behind the count: your cycles are 6.2% long on average. Stay with the ones.",
        ),
        (
            {"drift_pct_per_cycle": Measure(0.5, 15, 0.4, 0.6)},
            "You slow down as you go: 7.5% over 15 cycles. Keep the last cycle like the first.",
        ),
        (
            {"drift_pct_per_cycle": Measure(-0.5, 15, -0.6, -0.4)},
            "You speed up as you go: 7.5% over 15 cycles. Keep the last cycle like the first.",
        ),
        (
            {"bias_ms": Measure(90.4, 32, 80.2, 100.6)},
            "It is even, and all of it is late (90 ms, between 80 and 101): move the whole of it earlier.",
        ),
        (
            {"bias_ms": Measure(-90.4, 32, -100.6, -80.2)},
            "It is even, and all of it is early (90 ms, between 80 and 101): move the whole of it later.",
        ),
    ],
)
def test_the_whole_sentence_of_a_rule(values, said):
    assert tell(with_measures(**values)) == said


@pytest.mark.parametrize(
    "values",
    [
        {"period_ratio_mean": Measure(0.9, 15, 0.79, 1.01)},
        {"period_ratio_mean": Measure(0.9, 2)},
        {"drift_pct_per_cycle": Measure(0.5, 15, -0.1, 1.1)},
        {"drift_pct_per_cycle": Measure(0.1, 15, 0.05, 0.15)},
        {"bias_ms": Measure(90.0, 32, -1.0, 181.0)},
        {"bias_ms": Measure(25.0, 32, 20.0, 30.0)},
    ],
)
def test_what_is_not_beyond_chance_or_cannot_be_heard_is_no_fault(values):
    assert tell(with_measures(**values)).startswith("Even and in time")


def test_praise_names_the_measure_before_and_now():
    before = with_measures(period_cv_pct=Measure(9.04, 15, 7.0, 12.0))
    now = with_measures(period_cv_pct=Measure(1.26, 15, 1.0, 2.0))
    assert tell(now, before).startswith(
        "Better: your cycles are more even, 9.0 % before and 1.3 % now. Even and in time"
    )
    before = with_measures(spread_ms=Measure(30.0, 32, 25.0, 40.0))
    assert tell(GOOD, before).startswith("Better: you are steadier, 30.0 ms before and ")
    touching = with_measures(spread_ms=Measure(30.0, 32, 5.0, 99.0))
    assert not tell(GOOD, touching).startswith("Better")
    unknown = with_measures(spread_ms=Measure(30.0, 2), period_cv_pct=Measure(math.nan, 0))
    assert not tell(GOOD, unknown).startswith("Better")


def test_one_in_ten_missed_is_too_many():
    assert tell(card(MILLS, keep=[k for k in range(32) if k not in (5, 12, 20, 29)])).startswith(
        "4 of 32 moments are missing: take it slower, with every cue"
    )
    assert "moments are missing" not in tell(card(MILLS, keep=[k for k in range(32) if k not in (5, 12, 20)]))


def broken_in(*cycles):
    made = card(MILLS, late(MILLS, 10, 0.15))
    (broken,) = made.flagged
    rows = tuple(replace(cycle, flags=broken.flags if cycle.cycle in cycles else ()) for cycle in made.cycles)
    return replace(made, cycles=rows)


@pytest.mark.parametrize(
    ("cycles", "said"),
    [
        ((5,), " The others are even."),
        ((5, 6, 7, 8), " 3 more of 16 cycles broke; the others are even."),
        ((4, 5, 6, 7, 8), " 5 of 16 cycles broke: slow down until none does."),
    ],
)
def test_how_many_broke_is_said_behind_the_worst(cycles, said):
    told = tell(broken_in(*cycles))
    assert told.startswith("Look at cycle ") and told.endswith(said)


def test_every_kind_of_fault_has_its_words():
    made = card(ROPE)
    cycle = made.cycles[3]
    place = ROPE.place(cycle.positions[1])
    flags = (
        Flag("late", "high 1", 0.1504),
        Flag("early", "high 2", -0.0996),
        Flag("long", "", 0.1 * cycle.period / cycle.ratio),
        Flag("missed", "low"),
        Flag("extra"),
    )
    told = tell_cycle(made, replace(cycle, flags=flags))
    assert told == (
        f"cycle 4, eight {place.eight} count {say_count(place.count - 1)}: the circle “high 1” came 150 ms late; "
        "the circle “high 2” came 100 ms early; the cycle was 10% too long "
        f"({100 * cycle.period / cycle.ratio:.0f} ms); the circle “low” was missed; one too many"
    )


def test_less_than_can_be_heard_is_no_fault_however_small_the_allowance():
    # 2.5 % of an interval (Friberg & Sundberg 1995, abstract)
    strict = replace(GOOD, plan=replace(MILLS, allowance=0.01))
    for share, said in ((0.98, "Even and in time"), (0.97, "You run ahead")):
        assert tell(
            with_measures(strict, period_ratio_mean=Measure(share, 15, share - 0.005, share + 0.005))
        ).startswith(said)
