"""What is said: one kind of finding at a time, each on a take whose one thing is known."""

import math
import re
from dataclasses import replace
from typing import get_args

import numpy as np
import pytest

from tempo_coach import coach
from tempo_coach.observe.take.onsets import Onsets, Take
from tempo_coach.report.words.broken import tell_cycle
from tempo_coach.report.words.card import card_to_dict, format_card
from tempo_coach.report.words.sentence import OTHERWISE, SENTENCES, tell
from tempo_coach.score.card import judge, judge_fitted
from tempo_coach.score.faults.findings import Finding, Happened
from tempo_coach.score.measures.steadiness import measure_scatter
from tempo_coach.score.measures.timekeeping import Measure
from tempo_coach.score.scorecard import FLAGGED, Flag
from tests.benchmarks.performer import Performer, perform
from tests.report.takes import MILLS, ROPE, card, late

GOOD = card(MILLS)
#: Every second cycle is early, the others late.
TO_AND_FRO = np.where(MILLS.moments.cycle % 2, 0.04, -0.04)
NUMBERED = re.compile(r"cycle \d|eight \d|count \d")


def found(kind, made=GOOD, **values):
    """A card whose one finding is that."""
    return replace(made, findings=(Finding(kind, **{"confidence": 0.95, **values}),))


def broken(flag, *, cycle=5, hand="right", made=GOOD, **values):
    """A card of which one cycle of one hand broke."""
    values = {"by_ms": 1000 * flag.by, "confidence": 0.95, **values}
    rows = tuple(
        replace(row, flags=(flag,)) if (row.cycle, row.hand) == (cycle, hand) else replace(row, flags=())
        for row in made.cycles
    )
    return replace(made, cycles=rows, findings=(Finding(flag.kind, cycle, hand, flag.label, **values),))


def test_what_is_doubtful_is_said_with_perhaps_or_not_at_all():
    doubtful = Finding("long", 5, by_ms=90.0, by_counts=0.15, ratio=1.075, confidence=0.3, same_as=("late",))
    even = Finding("even", confidence=0.7)
    alone = tell(replace(GOOD, findings=(even,)))
    said = tell(replace(GOOD, findings=(even, doubtful)))
    assert said.startswith(alone)
    assert "Perhaps" in said and "cycle 6" in said and "one moment alone was late" in said
    unlikely = doubtful._replace(confidence=0.1, cycle=7)
    assert tell(replace(GOOD, findings=(even, unlikely))) == alone
    assert tell(replace(GOOD, findings=(even, unlikely, doubtful))) == said
    # what is sure is told as ever, and what is doubtful not as one more that broke
    flag = Flag("long", "", 0.3)
    sure = broken(flag)
    assert tell(replace(sure, findings=(*sure.findings, doubtful))) == tell(sure)


# --- every kind, on the finding alone --------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("kind", "values", "words"),
    [
        ("no_rhythm", {}, ("No rhythm",)),
        ("other_tempo", {"ratio": 2.0}, ("double the tempo",)),
        ("other_tempo", {"ratio": 0.5}, ("half the tempo",)),
        ("other_tempo", {"ratio": 1 / 0.95}, ("run ahead", "5.0% short")),
        ("other_tempo", {"ratio": 1 / 1.05}, ("fall behind", "5.0% long")),
        ("drifting", {"ratio": 1.08}, ("slow down", "8.0%")),
        ("drifting", {"ratio": 0.92}, ("speed up", "8.0%")),
        ("hands_swapped", {}, ("swapped", "right hand does what the left hand should")),
        ("late_entry", {"by_counts": 8.0}, ("4 whole cycles late",)),
        ("late_entry", {"by_counts": 2.0}, ("a whole cycle late",)),
        ("late_entry", {"by_counts": 3.0}, ("3 counts late",)),
        ("late_entry", {"by_counts": -2.0}, ("a whole cycle early",)),
        ("half_cycle_off", {"by_ms": -590.0}, ("half a cycle off", "590 ms early")),
        ("lag_off", {"hand": "left", "by_ms": 80.0}, ("The left hand comes too late", "80 ms", "come sooner")),
        (
            "lag_off",
            {"hand": "left", "moment": "circle", "by_ms": -80.0},
            ("The left circle comes too early", "80 ms", "instead of 180°", "wait for it"),
        ),
        ("all_late", {"by_ms": 90.0}, ("all of it is late", "90 ms", "earlier")),
        ("all_early", {"by_ms": -90.0}, ("all of it is early", "90 ms", "later")),
        ("even", {}, ("Even and in time", "Fewer cues next")),
    ],
)
def test_what_the_whole_take_was(kind, values, words):
    bias = Measure(values.get("by_ms", 0.0), 32, *((-10.0, 10.0) if kind == "even" else (math.nan, math.nan)))
    said = tell(found(kind, with_measures(bias_ms=bias), **values))
    for each in words:
        assert each in said
    assert said.endswith(".") and said[0].isupper() and "nan" not in said


@pytest.mark.parametrize(
    ("flag", "words"),
    [
        (Flag("long", "", 0.24), "the cycle was 20% too long (240 ms)"),
        (Flag("short", "", -0.24, of_one_hand=True), "the cycle of the right hand was 20% too short (240 ms)"),
        (Flag("late", "circle", 0.1504), "the right circle came 150 ms late"),
        (Flag("early", "circle", -0.0996), "the right circle came 100 ms early"),
        (Flag("missed", "circle"), "the right circle was missed"),
        (Flag("extra"), "one too many with the right hand"),
        (
            Flag("hesitated", "circle", 0.44),
            "you hesitated 440 ms before the right circle, and everything after it was late",
        ),
        (
            Flag("hesitated", "circle", 0.44, of_one_hand=True),
            "you hesitated 440 ms before the right circle, and the right hand after it was late",
        ),
        (
            Flag("slipped", "circle", -1.2),
            "the count slipped: from the right circle on, everything was 2 counts early",
        ),
        (
            Flag("slipped", "circle", -0.24),
            "you slipped ahead by 240 ms at the right circle, and everything after it was early",
        ),
    ],
)
def test_what_broke_in_a_cycle(flag, words):
    made = broken(flag)
    (cycle,) = made.flagged
    # the numbers are checked where the asked period is the cycle's own
    cycle = replace(cycle, period=1.2, ratio=1.0)
    place = MILLS.place(cycle.positions[0])
    assert tell_cycle(made, cycle) == f"cycle 6, eight {place.eight} count {place.count:g}: {words}"
    said = tell(replace(made, cycles=tuple(cycle if row.flags else row for row in made.cycles)))
    assert said == f"Look at cycle 6, eight {place.eight} count {place.count:g}: {words}. The others are even."


def test_every_kind_has_its_sentence():
    apart = {"even", "too_little"}
    assert set(SENTENCES) | apart == set(get_args(Happened))
    assert set(OTHERWISE) <= set(get_args(Happened))


def test_nothing_observed():
    assert tell(judge(Take(MILLS, Onsets(np.array([]), ())))).startswith("Nothing to tell")


def test_onsets_that_answer_nothing_are_not_called_few_cycles():
    onsets = Onsets(np.linspace(0.2, 1.1, 30), ("right",) * 30)
    said = tell(judge(Take(ROPE, onsets)))
    assert said.startswith(("Nothing to tell", "No rhythm"))


def test_the_figures_of_the_sentence_are_those_of_the_card_where_the_finding_has_others():
    made = found("all_late", by_ms=97.0, made=with_measures(bias_ms=Measure(90.4, 32, 80.2, 100.6)))
    assert "(90 ms, between 80 and 101)" in tell(made) and "97" not in tell(made)


def test_a_cycle_that_is_in_time_has_no_words():
    assert [tell_cycle(GOOD, cycle) for cycle in GOOD.cycles] == [""] * len(GOOD.cycles)


@pytest.mark.parametrize(
    ("cycles", "said"),
    [
        ((5,), " The others are even."),
        ((5, 6, 7, 8), " 3 more of 16 cycles broke; the others are even."),
        ((4, 5, 6, 7, 8), " 5 of 16 cycles broke: slow down until none does."),
    ],
)
def test_how_many_broke_is_said_behind_the_first(cycles, said):
    made = broken(Flag("late", "circle", 0.15))
    (one,) = made.flagged
    rows = tuple(replace(row, flags=one.flags if row.cycle in cycles else ()) for row in made.cycles)
    told = tell(replace(made, cycles=rows))
    assert told.startswith("Look at cycle ") and told.endswith(said)


# --- how sure ---------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("confidence", "perhaps"), [(0.95, False), (0.7, False), (0.69, True), (0.4, True)])
def test_what_is_not_sure_is_said_with_perhaps(confidence, perhaps):
    for kind in ("hands_swapped", "drifting"):
        said = tell(found(kind, ratio=1.1, confidence=confidence))
        assert said.startswith("Perhaps: ") is perhaps
        assert ("Perhaps" in said) is perhaps


@pytest.mark.parametrize(
    ("kind", "same", "words"),
    [
        ("half_cycle_off", ("hands_swapped",), "the hands are swapped"),
        ("half_cycle_off", ("hands_swapped", "lag_off"), "the hands are swapped or when one hand is off its place"),
        ("other_tempo", ("missed",), "every second one is left out"),
        ("other_tempo", ("extra",), "there are two for each one"),
        ("hands_swapped", ("half_cycle_off", "all_late", "slipped"), "all of it is half a cycle off"),
        ("hands_swapped", ("all_late", "all_early"), "all of it is earlier or later by part of a cycle"),
        ("lag_off", ("even",), "nothing is off but the circle it began with"),
    ],
)
def test_what_gives_the_same_onsets_is_said_too(kind, same, words):
    plain = tell(found(kind, ratio=0.5, by_ms=600.0, hand="left"))
    said = tell(found(kind, ratio=0.5, by_ms=600.0, hand="left", same_as=same))
    assert said == f"{plain} In this movement the same is seen when {words}."


def test_a_shift_is_not_said_to_be_another_shift():
    same = ("all_late", "all_early", "late_entry", "slipped")
    assert "the same" not in tell(found("all_late", by_ms=150.0, same_as=same))
    assert "the same" not in tell(found("late_entry", by_counts=8.0, same_as=("even", *same, "lag_off")))


def test_a_slip_may_be_a_hesitation_of_just_so_long():
    made = broken(Flag("slipped", "circle", 0.6), same_as=("hesitated",))
    assert "the count slipped" in tell(made) and "may also be that you hesitated" in tell(made)


def test_without_a_place_no_cycle_eight_or_count_is_told():
    off = late(MILLS, range(20, 32), 0.44)
    off[8] = 0.0
    keep = [k for k in range(32) if k != 8]
    times = (MILLS.moments.time + off)[keep].tolist()
    take = Take(MILLS, Onsets.unsorted(times, [MILLS.moments.hand[k] for k in keep]), observed_by="sensor")
    for confidence in (0.9, None):
        made = judge_fitted(take, confidence=confidence)
        values = card_to_dict(made)
        text = format_card(made)
        assert made.flagged and "hesitated" in text
        assert not NUMBERED.search(text) and "eight" not in text
        assert not any(NUMBERED.search(row["words"]) for row in values["cycles"])
        assert not NUMBERED.search(values["sentence"])
        assert "about 12 s in" in values["sentence"] and "about 5 s in" in text
        for row in (*values["cycles"], *values["missed_moments"], *values["findings"]):
            assert {row.get(name) for name in ("cycle", "eight", "count")} == {None}
        assert {"count", "eight"}.isdisjoint(values["detail"]["by"])
    stopped = judge_fitted(replace(take, onsets=Onsets(take.onsets.time[:20], take.onsets.hand[:20])), confidence=0.9)
    assert "stopped after" in tell(stopped) and not re.search(r"cycle \d|of 16", tell(stopped))


# --- even, and what is too little -------------------------------------------------------------------------------------


def with_measures(made=GOOD, **values):
    return replace(made, measures={**made.measures, **values})


@pytest.mark.parametrize(
    ("low", "high", "in_time"),
    [(-10, 12, True), (-45, 45, True), (-10, 400, False), (-400, 10, False), (-400, 400, False), (20, 45, True)],
)
def test_in_time_only_where_the_whole_interval_lies_inside(low, high, in_time):
    said = tell(with_measures(bias_ms=Measure((low + high) / 2, 32, low, high)))
    assert ("in time" in said) is in_time
    assert said.startswith("Even")
    if not in_time:
        assert f"{abs(low)} ms {'late' if low > 0 else 'early'} and {high} ms late" in said
        assert "cannot be told from 16 cycles" in said


def test_a_bias_that_is_known_and_no_fault_is_said_with_its_interval():
    said = tell(with_measures(bias_ms=Measure(60.0, 32, 20.0, 100.0)))
    assert "in time" not in said and "a little late (60 ms, between 20 ms late and 100 ms late)" in said


@pytest.mark.parametrize("observed_by", ["tap", "coach's tap"])
def test_taps_without_a_calibrated_setup_are_never_in_time(observed_by):
    for off in (0.0, -0.03, 0.02):
        said = tell(card(MILLS, off, observed_by=observed_by))
        assert "in time" not in said and "keyboard and loudspeaker" in said
    assert "keyboard and loudspeaker" in tell(card(MILLS, 0.2, observed_by=observed_by))
    assert "Even and in time" in tell(replace(card(MILLS, observed_by=observed_by), calibrated=True))
    late_by_setup = replace(card(MILLS, 0.2, observed_by=observed_by), calibrated=True)
    assert "all of it is late" in tell(late_by_setup) and "loudspeaker" not in tell(late_by_setup)


def test_a_tap_a_little_ahead_is_usual():
    # people tap several tens of ms ahead of a click without knowing (Aschersleben 2002, abstract)
    usual = replace(card(MILLS, -0.04, observed_by="tap"), calibrated=True)
    assert tell(usual).startswith("Even and in time")


def test_without_a_bias_it_is_not_called_in_time():
    said = tell(judge_fitted(Take(MILLS, Onsets(MILLS.moments.time, MILLS.moments.hand)), confidence=0.9))
    assert said.startswith("Even: ") and "in time" not in said and "cannot be told here" in said


def test_an_even_take_has_its_numbers():
    values = {"period_cv_pct": Measure(1.26, 15), "spread_ms": Measure(7.6, 32)}
    assert tell(with_measures(**values)) == (
        "Even and in time: cycles differ by 1.3 %, moments by 8 ms. Fewer cues next."
    )
    assert "moments by 8 ms" in tell(with_measures(**{**values, "period_cv_pct": Measure(math.nan, 0)}))


def test_under_eight_cycles_it_is_too_few_to_tell():
    plan = coach.lay(coach.Request("clubs_mills", tempo_bpm=100, cycles=7))
    said = tell(card(plan, 0.02))
    assert said == "7 cycles are too few to tell what is usual: do 8 or more in a row."
    one = coach.lay(coach.Request("clubs_mills", tempo_bpm=100, cycles=1))
    assert tell(card(one)).startswith("1 cycle is too few")


def test_an_unmistakable_fault_is_named_all_the_same():
    plan = coach.lay(coach.Request("rope_figure_eight", tempo_bpm=100, cycles=7))
    said = tell(card(plan, late(plan, 10, 0.2)))
    assert "too few to tell" in said
    assert "cycle 4, eight 2 count" in said
    assert "late" in said


def test_a_lag_that_cannot_be_heard_is_no_fault():
    left = [k for k, hand in enumerate(MILLS.moments.hand) if hand == "left"]
    assert tell(card(MILLS, late(MILLS, left, 0.02))).startswith("Even")


# --- praise -----------------------------------------------------------------------------------------------------------


def test_praise_only_beyond_chance():
    before = judge(perform(MILLS, Performer(clock=0.04, motor=0.03), np.random.default_rng(1)))
    after = judge(perform(MILLS, Performer(clock=0.008, motor=0.006), np.random.default_rng(2)))
    same = judge(perform(MILLS, Performer(clock=0.038, motor=0.028), np.random.default_rng(3)))
    assert tell(after, before).startswith("Better: your cycles are more even")
    assert not tell(same, before).startswith("Better")
    assert not tell(before, after).startswith("Better")
    assert "sentence" in card_to_dict(after, before)


def test_praise_names_the_scatter_before_and_now():
    before = replace(GOOD, asynchrony=TO_AND_FRO)
    then, now = (100 * measure_scatter(MILLS, each.asynchrony).size for each in (before, GOOD))
    assert tell(GOOD, before).startswith(
        f"Better: your cycles are more even; they scattered by {then:.1f} % before and by {now:.1f} % now."
    )
    assert not tell(before, GOOD).startswith("Better")
    unknown = replace(GOOD, asynchrony=np.full(len(TO_AND_FRO), np.nan))
    assert not tell(GOOD, unknown).startswith("Better")


def test_another_tempo_is_no_progress():
    before = replace(GOOD, asynchrony=TO_AND_FRO)
    assert tell(GOOD, before).startswith("Better")
    assert not tell(found("other_tempo", ratio=0.5), before).startswith("Better")
    assert not tell(GOOD, replace(before, findings=(Finding("other_tempo", ratio=0.5),))).startswith("Better")


def test_every_flag_has_its_words_in_the_table_of_cycles():
    assert {"hesitated", "slipped"} <= FLAGGED
    for kind in sorted(FLAGGED):
        assert kind.upper() in format_card(broken(Flag(kind, "circle", 0.3)))
