"""What is said of whole takes, from their onsets on: each is wrong in one known way, or in none."""

import re
from dataclasses import replace

import numpy as np
import pytest

from tempo_coach import coach
from tempo_coach.observe.take.onsets import Onsets, Take
from tempo_coach.report.words.broken import tell_cycle
from tempo_coach.report.words.card import format_card
from tempo_coach.report.words.sentence import tell
from tempo_coach.score.card import judge
from tempo_coach.score.scorecard import Flag
from tests.benchmarks import performers
from tests.report.takes import MILLS, card, late

START = MILLS.moments.time[0]


@pytest.mark.parametrize(("scale", "said"), [(0.95, "run ahead"), (1.05, "fall behind"), (2, "half the tempo")])
def test_another_tempo(scale, said):
    made = card(MILLS, times=START + (MILLS.moments.time - START) * scale)
    assert said in tell(made)
    text = format_card(made)
    assert "against the plan" not in text and "spread" not in text
    assert f"{scale:.1%} of what was asked" in text or f"{100 * scale:.0f}." in text


def test_hands_swapped_and_what_sounds_the_same():
    hands = [MILLS.hands[1 - MILLS.hands.index(hand)] for hand in MILLS.moments.hand]
    made = judge(Take(MILLS, Onsets.unsorted(MILLS.moments.time.tolist(), hands)))
    said = tell(made)
    assert {made.findings[0].kind, *made.findings[0].same_as} >= {"hands_swapped", "half_cycle_off"}
    assert "swapped" in said and "half a cycle off" in said


def test_stopping_is_no_row_of_missed_moments():
    made = card(MILLS, keep=range(20))
    said, text = tell(made), format_card(made)
    assert said.startswith("You stopped after cycle 10 of 16; until then it was even.")
    assert "10 of 16 cycles done, 20 of 20 moments answered" in " ".join(text.split())
    assert "missed" not in text and text.count("not done") == 12
    assert tell(card(MILLS, keep=range(21))).startswith("You stopped in cycle 11 of 16")


def test_coming_in_late():
    made = card(MILLS, keep=range(8, 32))
    assert tell(made).startswith("You came in 4 whole cycles late")
    assert format_card(made).count("not done") == 8


def test_chance_has_no_figures():
    times = np.random.default_rng(3).uniform(START, MILLS.moments.time[-1], 32)
    made = judge(Take(MILLS, Onsets.unsorted(times.tolist(), MILLS.moments.hand)))
    assert made.findings[0].kind == "no_rhythm"
    assert tell(made).startswith("No rhythm of this drill")
    text = format_card(made)
    assert "spread" not in text and "What broke" not in text and "missed" not in text


def test_all_of_it_late_with_the_figures_of_the_card():
    made = card(MILLS, 0.15)
    bias = made.measures["bias_ms"]
    said = tell(made)
    assert f"all of it is late ({bias.value:.0f} ms, between {bias.low:.0f} and {bias.high:.0f})" in said
    assert f"{bias.value:.0f} ms late  (between +{bias.low:.0f} and +{bias.high:.0f})" in format_card(made)


def test_one_broken_cycle_is_told_with_its_place_and_once():
    off = 0.24 * np.clip(MILLS.moments.cycle - 4, 0, 1)
    made = card(MILLS, off)
    assert made.findings[0].kind in ("hesitated", "long")
    assert re.match(r"Look at cycle [56], eight \d count \d: ", tell(made))
    assert sum(line.startswith("cycle ") for line in format_card(made).split("What broke:")[1].splitlines()) == 1


@pytest.mark.parametrize("hand", ["right", "left"])
def test_a_wait_of_both_hands_is_told_at_the_moment_that_came_after_it(hand):
    begin = next(k for k in range(12, 32) if MILLS.moments.hand[k] == hand)
    made = card(MILLS, late(MILLS, range(begin, 32), 0.44))
    assert [found.kind for found in made.findings] == ["hesitated"]
    ((row,),) = (made.flagged,)
    assert (row.hand, row.cycle) == (hand, int(MILLS.moments.cycle[begin]))
    place = MILLS.place(float(MILLS.moments.count[begin]))
    assert f"eight {place.eight} count {place.count:g}: you hesitated 4" in tell(made)
    assert f"before the {hand} circle" in tell(made)
    assert "with the hesitation in it" in format_card(made)


def test_missed_and_extra_in_words():
    made = card(MILLS, keep=[k for k in range(32) if k != 12])
    assert tell_cycle(made, made.flagged[0]).endswith("the right circle was missed")
    made = card(MILLS, keep=[k for k in range(32) if k not in (12, 13)])
    assert "cycle 7, eight 2 count 6: all of it was missed" in tell(made)
    onsets = Onsets.unsorted([*MILLS.moments.time.tolist(), 9.4], [*MILLS.moments.hand, "left"])
    made = judge(Take(MILLS, onsets))
    assert tell_cycle(made, made.flagged[0]).endswith("one too many with the left hand")
    twice = replace(made.flagged[0], flags=(Flag("extra"), Flag("late", by=0.09), Flag("extra")))
    assert tell_cycle(made, twice).partition(": ")[2].split("; ")[0] == "2 too many with the left hand"


@pytest.mark.parametrize("cycles", [8, 16])
@pytest.mark.parametrize("family", ["cycle", "wandering"])
def test_all_of_it_a_quarter_of_a_second_late_is_not_in_time(family, cycles):
    plan = coach.lay(coach.Request("clubs_mills_three", cycles=cycles))
    for seed in range(3):
        who = performers.Who(family, 0.03, bias=0.25)
        take = performers.perform(plan, who, np.random.default_rng(seed)).take
        assert "in time" not in tell(judge(take))


def test_taps_are_in_time_only_with_a_measured_setup():
    generator = np.random.default_rng(2)
    times = (MILLS.moments.time + generator.normal(0, 0.008, len(MILLS.moments))).tolist()
    take = Take(MILLS, Onsets.unsorted(times, MILLS.moments.hand), observed_by="tap")
    assert "keyboard and loudspeaker" in tell(judge(take)) and "in time" not in tell(judge(take))
    assert "in time" in tell(judge(replace(take, calibrated=True)))
