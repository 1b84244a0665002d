"""The scorecard as text: what stands on it, and that it keeps to its columns."""

from dataclasses import replace

import numpy as np
import pytest

from tempo_coach import coach
from tempo_coach.observe.take.onsets import Onsets, Take
from tempo_coach.pattern.drill.drill_file import list_drills
from tempo_coach.report.words.card import format_card, say_angle, say_kinds
from tempo_coach.score.card import judge
from tempo_coach.score.measures.timekeeping import Measure
from tempo_coach.signs import cut
from tests.report.takes import MILLS, ROPE, card, late


def test_what_observing_adds_is_said_where_it_was_measured():
    tapped = card(MILLS, observed_by="tap")
    plain, measured = (" ".join(format_card(each).split()) for each in (tapped, replace(tapped, noise_floor_ms=1.5)))
    assert "observed by taps" in plain and "of its own" not in plain
    assert "observed by taps, which adds 1.5 ms of its own" in measured


@pytest.mark.parametrize("plan", [MILLS, ROPE])
def test_the_page_fits_80_columns_and_tells_by_word(plan):
    into = (plan.moments.time - plan.moments.time[plan.moments.cycle == 4].min()) / (plan.cycle_counts * 0.6)
    for off, word in ((0.2 * 0.6 * plan.cycle_counts * np.clip(into, 0, 1), "LONG"), (0.9 * (into > 0), "HESITATED")):
        text = format_card(card(plan, off))
        assert max(len(line) for line in text.splitlines()) <= 80
        assert word in text
    assert plan.title in text
    assert "What broke:" in text
    assert text.isprintable() or "\n" in text


def test_a_long_take_shows_what_broke_and_not_every_cycle():
    plan = coach.lay(coach.Request("rope_figure_eight", tempo_bpm=100, cycles=200))
    text = format_card(card(plan, keep=[k for k in range(600) if k != 100]))
    assert len(text.splitlines()) < 25
    assert "MISSED" not in text
    assert "the circle “high 1” was missed" in text


@pytest.mark.parametrize("drill", [path.stem for path in list_drills()])
def test_what_trails_what_is_told_whole_in_every_drill(drill):
    plan = coach.lay(coach.Request(drill, tempo_bpm=80, cycles=10))
    said = format_card(card(plan, late(plan, 10, 0.01)))
    assert max(len(line) for line in said.splitlines()) <= 80
    named = [line.split("  ")[0] for line in said.splitlines() if "°" in line]
    assert not [name for name in named if "…" in name]
    assert len(set(named)) == len(named)


def test_names_that_are_long_do_not_break_the_page():
    name = "left " * 30
    moments = MILLS.moments
    hands = tuple(name if hand == "left" else hand for hand in moments.hand)
    plan = replace(MILLS, title="mills " * 40, hands=("right", name), moments=replace(moments, hand=hands))
    text = format_card(card(plan, late(plan, 10, 0.15)))
    assert max(len(line) for line in text.splitlines()) <= 80


def test_what_was_not_done_at_all_is_one_line():
    text = format_card(card(MILLS, keep=[k for k in range(32) if k not in range(12, 16)]))
    assert "cycles 7 to 8 were not done" in text
    assert "missed" not in text.split("What broke:")[1]


@pytest.mark.parametrize(
    ("kinds", "room", "said"),
    [
        (("missed", "hesitated"), 20, "missed, hesitated"),
        (("hesitated", "missed", "hesitated"), 13, "hesitated +1"),
        (("hesitated", "missed"), 10, "hesitated+"),
        ((), 10, ""),
        ((), -3, ""),
    ],
)
def test_what_broke_is_said_in_the_room_that_there_is(kinds, room, said):
    assert say_kinds(kinds, room) == said


def test_an_empty_take_makes_a_page():
    text = format_card(judge(Take(MILLS, Onsets(np.array([]), ()))))
    assert "Nothing to tell" in text
    assert "0 of 32 moments" in text


@pytest.mark.parametrize(
    ("degrees", "said"), [(-0.3, "0°"), (0.4, "0°"), (359.6, "0°"), (-3.2, "357°"), (180.5, "180°"), (541, "181°")]
)
def test_an_angle_is_never_a_whole_circle(degrees, said):
    assert say_angle(degrees) == said


def test_parts_that_go_together_are_not_a_circle_apart():
    made = card(MILLS)
    lag = replace(made.lags[0], asked=0.0, lag=replace(made.lags[0].lag, degrees=-0.2, half_interval=1.6))
    assert "left behind right  0° ± 2°, asked 0°" in format_card(replace(made, lags=(lag,)))


def test_a_long_name_of_one_word_is_cut_and_not_dropped():
    name = "gymnast_number_twelve"
    moments = MILLS.moments
    hands = tuple(name if hand == "left" else hand for hand in moments.hand)
    plan = replace(MILLS, title="m" * 90, hands=("right", name), moments=replace(moments, hand=hands))
    lines = format_card(card(plan)).splitlines()
    assert lines[0] == f"{'m' * 79}…"
    assert any("  gymnast_numbe…  " in line for line in lines)
    assert any(line.startswith("gymnast_number_twelve behind ") for line in lines)


@pytest.mark.parametrize(
    ("words", "width", "left"),
    [("Ada", 3, "Ada"), ("Adam", 3, "Ad…"), ("Ada Bo", 5, "Ada…"), ("", 0, ""), ("ab", 1, "…")],
)
def test_words_are_cut_at_their_end(words, width, left):
    assert cut(words, width) == left


def with_measures(**values):
    made = card(MILLS)
    return replace(made, measures={**made.measures, **values})


@pytest.mark.parametrize(
    ("bias", "said"),
    [
        (Measure(-0.4, 32, -3.4, 2.6), "0 ms  (between -3 and +3)"),
        (Measure(-12.6, 32, -15.2, -10.0), "13 ms early  (between -15 and -10)"),
        (Measure(12.4, 32), "12 ms late"),
        (Measure(0.6, 32), "1 ms late"),
        (Measure(-0.6, 32), "1 ms early"),
        (Measure(12.4, 2, -90, 61), "12 ms late"),
    ],
)
def test_early_and_late_in_words_with_an_interval_that_says_something(bias, said):
    lines = format_card(with_measures(bias_ms=bias)).splitlines()
    assert next(line for line in lines if line.startswith("against the plan"))[19:] == said


@pytest.mark.parametrize(
    ("drift", "said"),
    [
        (Measure(0.254, 16, 0.1, 0.4), "slows down by 0.25 % a cycle  (between +0.10 and +0.40)"),
        (Measure(-0.254, 16, -0.4, -0.1), "speeds up by 0.25 % a cycle  (between -0.40 and -0.10)"),
        (Measure(0.254, 16, -0.1, 0.6), "none that can be told (+0.25 % a cycle)"),
        (Measure(-0.2, 3), "none that can be told (-0.20 % a cycle)"),
    ],
)
def test_drift_in_words(drift, said):
    lines = format_card(with_measures(drift_pct_per_cycle=drift)).splitlines()
    assert next(line for line in lines if line.startswith("drift"))[19:] == said


def test_a_spread_whose_interval_is_too_wide_stands_alone():
    text = format_card(with_measures(spread_ms=Measure(10.0, 3, 5.0, 25.1), period_cv_pct=Measure(1.26, 15, 1.0, 2.0)))
    assert "spread             10 ms\n" in text
    assert "cycles differ by   1.3 %  (between 1.0 and 2.0)\n" in text


@pytest.mark.parametrize(
    ("ratio", "at", "sign"), [(1, 10, "o"), (0.9, 6, "o"), (1.25, 20, "o"), (1.3, 20, ">"), (0.7, 0, "<")]
)
def test_a_cycle_stands_on_its_scale(ratio, at, sign):
    made = card(MILLS)
    lines = format_card(replace(made, cycles=(replace(made.cycles[0], ratio=ratio),))).splitlines()
    row = lines[next(k for k, line in enumerate(lines) if line.startswith("cycle  eight")) + 1]
    scale = row.split()[4]
    assert len(scale) == 21 and scale[at] == sign and scale.count(sign) == 1
    assert row.endswith(f"{ratio:.0%}")


def test_of_many_broken_cycles_the_first_ones_are_told_and_the_others_counted():
    made = card(MILLS, late(MILLS, 10, 0.15))
    (broken,) = made.flagged
    many = tuple(replace(broken, cycle=k) for k in range(15))
    told = format_card(replace(made, cycles=many)).split("What broke:\n")[1].split("\n\n")[0].splitlines()
    assert sum(line.startswith("cycle ") for line in told) == 12
    assert told[-1] == "… and 3 more"
