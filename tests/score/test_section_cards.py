"""Sections of a run-through: each by itself, the worst first, and lateness beside the rest where its own is unknown."""

import numpy as np
import pytest

from tempo_coach import coach
from tempo_coach.music.counts.count_map import CountMap, Position
from tempo_coach.observe.take.onsets import Onsets, Take
from tempo_coach.pattern.plan.layout import cut_short
from tempo_coach.pattern.plan.plan import Music
from tempo_coach.pattern.routine.routine import Laid, MusicFile, Routine
from tempo_coach.pattern.routine.run_through import run_through
from tempo_coach.report.words.card import card_to_dict, format_card
from tempo_coach.report.words.run_throughs import say_verdict
from tempo_coach.score.card import judge, judge_fitted
from tempo_coach.score.section_cards import SectionKind, worst_first

LAID = (
    Laid("clubs_mills", Position(1, 1.0), 2),
    Laid("rope_figure_eight", Position(3, 1.0), 3),
    Laid("clubs_mills", Position(7, 1.0), 2),
    Laid("rope_figure_eight", Position(10, 1.0), 2),
)
PLAN = run_through(
    Routine("Invented", MusicFile("music.wav"), laid=LAID),
    CountMap(0.5 * np.arange(104), tuple((8 * k, 8) for k in range(13))),
    lambda laid: (coach.load_drill(laid.drill), {}),
    name="invented",
    music=Music("/invented/music.wav", "0" * 64),
    eights=12,
)


def late_by(*seconds: float) -> np.ndarray:
    """How late each moment comes whose section is late by so much, with a scatter that anybody has."""
    scatter = np.random.default_rng(1).normal(0, 0.008, len(PLAN.moments))
    for section, late in zip(PLAN.sections, seconds, strict=True):
        cycles = PLAN.moments.cycle - section.first_cycle
        scatter[(cycles >= 0) & (cycles < len(section.cycle_starts))] += late
    return scatter


def take(late: np.ndarray, plan=PLAN, **options) -> Take:
    done = np.flatnonzero(np.isfinite(late[: len(plan.moments)]))
    times = (plan.moments.time + late[: len(plan.moments)])[done]
    return Take(plan, Onsets.unsorted(times.tolist(), [plan.moments.hand[k] for k in done]), **options)


def test_a_section_that_is_late_is_told_first_and_the_others_are_in_time():
    card = judge(take(late_by(0, 0.12, 0, 0), observed_by="sender"))
    kinds = [each.kind for each in card.sections]
    assert kinds == [SectionKind.IN_TIME, SectionKind.LATE, SectionKind.IN_TIME, SectionKind.IN_TIME]
    worst = worst_first(card.sections)[0]
    assert (worst.first_eight, worst.last_eight, worst.answered, worst.asked) == (3, 5, 18, 18)
    assert worst.bias == pytest.approx(0.12, abs=0.01) and not worst.relative
    words = card_to_dict(card)
    assert "eights 3-5" in words["sentence"] and "3 of 4 sections in time" in words["sentence"]
    assert [each["verdict"] for each in words["detail"]["sections"]] == [str(kind) for kind in kinds]
    assert all(len(row) <= 80 for row in format_card(card).split("\n"))


def test_each_section_is_judged_as_a_take_of_its_drill_is():
    card = judge(take(late_by(0, 0.12, 0, 0), observed_by="sender"))
    alone = card.sections[1].card
    assert alone.plan.drill == "rope_figure_eight" and not alone.sections
    assert alone.value("bias_ms") == pytest.approx(1000 * np.nanmean(alone.asynchrony))
    # every onset belongs to one section and none to two
    assert sum(each.answered for each in card.sections) == len(PLAN.moments)


def test_where_the_delay_or_the_place_is_not_known_lateness_is_told_beside_the_rest():
    late = late_by(0.2, 0.32, 0.2, 0.2)
    by_keys = judge(take(late, observed_by="tap"))
    assert [each.kind for each in by_keys.sections].count(SectionKind.IN_TIME) == 3
    assert say_verdict(by_keys.sections[1]).endswith("later than the rest")
    known = judge(take(late, observed_by="tap", calibrated=True))
    assert {each.kind for each in known.sections} == {SectionKind.LATE}
    fitted = judge_fitted(take(late, observed_by="sensor"), confidence=0.9)
    assert [each.relative for each in fitted.sections] == [True] * 4
    assert fitted.sections[1].kind is SectionKind.LATE and fitted.sections[0].kind is SectionKind.IN_TIME
    assert all(np.isnan(each.card.value("bias_ms")) for each in fitted.sections)


def test_what_was_left_out_missed_or_uneven_is_told_as_that_and_comes_first():
    late = late_by(0, 0, 0, 0)
    third = np.flatnonzero(PLAN.moments.cycle >= PLAN.sections[2].first_cycle)
    third = third[PLAN.moments.cycle[third] < PLAN.sections[3].first_cycle]
    late[third] = np.nan
    last = np.flatnonzero(PLAN.moments.cycle >= PLAN.sections[3].first_cycle)
    late[last[len(last) // 2 :]] = np.nan
    cycles = PLAN.moments.cycle < len(PLAN.sections[0].cycle_starts)
    late[cycles] += np.where(PLAN.moments.cycle[cycles] % 2, 0.07, -0.07)
    card = judge(take(late, observed_by="sender"))
    assert [each.kind for each in card.sections] == [
        SectionKind.UNEVEN,
        SectionKind.IN_TIME,
        SectionKind.NOT_DONE,
        SectionKind.MANY_MISSED,
    ]
    assert worst_first(card.sections)[0].kind is SectionKind.NOT_DONE


def test_a_take_that_was_ended_says_what_it_did_not_reach():
    end = float(PLAN.moments.time[PLAN.moments.cycle < PLAN.sections[2].first_cycle][-1]) + 0.2
    card = judge(take(late_by(0, 0, 0, 0), plan=cut_short(PLAN, end), observed_by="sender"))
    assert [each.kind for each in card.sections[2:]] == [SectionKind.NOT_REACHED] * 2
    assert "in time (2 sections)" in card_to_dict(card)["sentence"]


def test_nothing_at_all_and_what_lies_between_the_sections_are_no_trouble():
    nothing = judge(take(np.full(len(PLAN.moments), np.nan), observed_by="sender"))
    assert {each.kind for each in nothing.sections} == {SectionKind.NOT_DONE}
    # steps heard in the eights on which nothing is laid belong to no section
    steps = PLAN.start + 0.5 * (np.arange(66.0, 69.0))
    own = take(late_by(0, 0, 0, 0), observed_by="sender")
    rows = sorted([*zip(own.onsets.time, own.onsets.hand, strict=True), *((t, "right") for t in steps)])
    card = judge(Take(PLAN, Onsets.unsorted([t for t, _ in rows], [h for _, h in rows]), observed_by="sender"))
    assert {each.kind for each in card.sections} == {SectionKind.IN_TIME}
    assert not any(len(each.card.extra_time) for each in card.sections)
