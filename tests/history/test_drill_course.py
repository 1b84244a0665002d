"""The course of a drill: what its takes say of today and of later days."""

from __future__ import annotations

import math

import numpy as np
import pytest

from tempo_coach.history.drill_course import MOST, PRIOR, fit_course


def course_of(pct, *, days=None, tempo=100.0, cued=1.0, periods=7.0):
    pct = np.asarray(pct, dtype=np.float64)
    days = np.arange(len(pct), dtype=np.float64) if days is None else np.asarray(days, dtype=np.float64)
    return fit_course(days, pct, *(np.full(len(pct), each) for each in (tempo, cued, periods)))


def test_without_a_take_it_is_what_is_believed_of_anybody():
    level = course_of([]).at(0, tempo_bpm=100)
    assert level.pct == pytest.approx(PRIOR) and level.se > 0.5


@pytest.mark.parametrize("pct", [[4.0], [math.nan, 4.0], [4.0, math.nan]])
def test_one_take_moves_it_towards_itself_and_what_is_not_known_does_not(pct):
    level, before = course_of(pct).at(1, tempo_bpm=100), course_of([]).at(1, tempo_bpm=100)
    assert 4.0 < level.pct < before.pct and level.se < before.se


def test_the_more_takes_the_surer_and_the_later_the_day_the_less_sure():
    few, many = course_of([4.0] * 4), course_of([4.0] * 30)
    assert many.at(30, tempo_bpm=100).se < few.at(4, tempo_bpm=100).se
    assert many.at(90, tempo_bpm=100).se > many.at(30, tempo_bpm=100).se
    assert many.at(29, tempo_bpm=130).se > many.at(29, tempo_bpm=100).se  # a tempo that was not tried


def test_who_gets_better_is_expected_to_and_who_does_not_is_not():
    better, same = course_of(8 * 0.985 ** np.arange(40)), course_of([4.4] * 40)
    assert better.at(60, tempo_bpm=100).pct < better.at(39, tempo_bpm=100).pct < 5
    assert same.at(60, tempo_bpm=100).pct == pytest.approx(4.4, rel=0.1)


def test_one_broken_take_hardly_moves_it():
    whole, broken = [4.0] * 20, [4.0] * 19 + [90.0]
    assert course_of(broken).at(20, tempo_bpm=100).pct < 1.12 * course_of(whole).at(20, tempo_bpm=100).pct
    assert course_of([90.0] * 30).at(30, tempo_bpm=100).pct <= 1.05 * MOST


def test_any_day_may_be_the_first():
    a = course_of([5, 4, 4.5, 4]).at(8, tempo_bpm=100)
    b = course_of([5, 4, 4.5, 4], days=741_000 + np.arange(4)).at(741_008, tempo_bpm=100)
    assert a == pytest.approx(b)


def test_its_standard_error_covers():
    # a level that stays, on good and bad days, as the model has them: exact to what chance leaves open
    generator = np.random.default_rng(3)
    inside = 0
    for _ in range(200):
        true = math.log(generator.uniform(2.5, 7))
        days = np.repeat(np.arange(12.0), 2)
        noise = np.repeat(generator.normal(0, 0.14, 12), 2) + generator.normal(0, 0.32, 24)
        level = course_of(np.exp(true + noise), days=days).at(12, tempo_bpm=100)
        inside += abs(level.log - true) < 1.96 * level.se
    assert inside >= 182  # 95 of 100, less three standard errors
