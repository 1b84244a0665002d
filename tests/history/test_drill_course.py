"""The course of a drill: what its takes say of today and of later days."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from tempo_coach.history import drill_course
from tempo_coach.history.drill_course import BELIEVED, MOST, PRIOR, find_velocity, fit_course


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


def test_what_all_drills_show_of_a_velocity_is_what_one_great_regression_finds():
    # a Gaussian process over all drills at once, whose velocities have one part in common: computed plainly, without
    # the program's way through each drill's own course
    generator = np.random.default_rng(5)
    days = [np.sort(generator.integers(0, 50, n)).astype(float) for n in (9, 14, 6)]
    courses = [course_of(5 * np.exp(generator.normal(0, 0.2, len(each))), days=each) for each in days]
    passed = [drill_course._passed(each.day, each.day[0]) for each in courses]
    size = [len(each.day) for each in courses]
    covariance = np.zeros((sum(size), sum(size)))
    for k, each in enumerate(courses):
        here = slice(sum(size[:k]), sum(size[: k + 1]))
        covariance[here, here] = np.linalg.inv(each.weight)
    lasted = np.concatenate(passed)
    covariance += BELIEVED.se**2 * np.outer(lasted, lasted)
    rest = np.concatenate([each.rest for each in courses]) - BELIEVED.mean * lasted
    velocity = find_velocity(courses)
    pulled = np.linalg.solve(covariance, lasted)
    assert velocity.mean == pytest.approx(BELIEVED.mean + BELIEVED.se**2 * pulled @ rest)
    assert velocity.se**2 == pytest.approx(BELIEVED.se**2 - BELIEVED.se**4 * pulled @ lasted)
    # and the level of the first drill three weeks on
    first, then = courses[0], courses[0].day[-1] + 21
    to = (np.array([then]), np.array([math.log(100.0)]), np.zeros(1))
    at, start = (first.day, first.tempo, first.uncued), first.day[0]
    later = float(drill_course._passed(to[0], start)[0])
    with_all = BELIEVED.se**2 * later * lasted
    with_all[: size[0]] += drill_course._covariance(to, at, start)[0]
    mean = math.log(PRIOR) + BELIEVED.mean * later + with_all @ np.linalg.solve(covariance, rest)
    among = drill_course._covariance(to, to, start)[0, 0] + BELIEVED.se**2 * later**2
    level = replace(first, velocity=velocity).at(then, tempo_bpm=100)
    assert level.log == pytest.approx(mean)
    assert level.se**2 == pytest.approx(among - with_all @ np.linalg.solve(covariance, with_all))


def test_whoever_got_steadier_in_nothing_is_not_believed_to_begin_to():
    assert find_velocity([]) == pytest.approx(BELIEVED)
    flat = find_velocity([course_of([4.4] * 30)] * 6)
    better = find_velocity([course_of(8 * 0.985 ** np.arange(30))] * 6)
    assert better.mean < BELIEVED.mean < flat.mean < 0
    assert flat.se < BELIEVED.se


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
