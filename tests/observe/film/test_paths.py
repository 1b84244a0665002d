"""Spots to paths: gaps stay gaps, crossings are told apart, what stands still or is too large is left alone."""

from __future__ import annotations

import numpy as np
import pytest

from tempo_coach.observe.film.paths import join_paths
from tempo_coach.observe.film.spots import Spots
from tests.generators import films

TIMES = films.steady_times(3, 60, jitter=0.1)
LEFT = films.turning(lambda t: t / 0.6, (220, 150), 80)
RIGHT = films.turning(lambda t: t / 0.6 - 0.5, (340, 150), 80, -1)


def spots(*points: tuple[float, float, float, float]) -> Spots:
    table = np.array(points, dtype=float).reshape(-1, 4)
    return Spots(*table.T, np.zeros(len(table), bool), np.zeros((len(table), 3)))


def seen(*paths: object, hidden: tuple[float, float] = (9, 9), others: list[tuple] | None = None) -> list[Spots]:
    """One spot a path and picture; two nearer than their width become one of both their size."""
    out = []
    for time in TIMES:
        points = [] if hidden[0] <= time < hidden[1] else [tuple(path(np.array([time]))[0]) for path in paths]
        if len(points) == 2 and np.hypot(*np.subtract(*points)) < 16:
            here = [(*np.mean(points, axis=0), 280.0, 1.0)]
        else:
            here = [(*point, 140.0, 1.0) for point in points]
        out.append(spots(*here, *(others or [])))
    return out


def off(path: object, truth: object) -> np.ndarray:
    return np.hypot(*(np.column_stack([path.x, path.y]) - truth(TIMES)).T)


def test_one_marker_is_followed_exactly():
    (path,) = join_paths(TIMES, seen(LEFT), width=640)
    assert np.nanmax(off(path, LEFT)) < 1e-9
    assert not np.isnan(path.x).any()
    assert path.confidence.min() == pytest.approx(1)


def test_a_gap_stays_a_gap_and_the_marker_is_taken_up_again():
    (path,) = join_paths(TIMES, seen(LEFT, hidden=(1.0, 2.0)), width=640)
    gap = (TIMES >= 1.0) & (TIMES < 2.0)
    assert np.array_equal(np.isnan(path.x), gap)
    assert (path.confidence[gap] == 0).all()
    assert path.guessed == ()


def test_two_of_one_colour_that_cross_keep_their_names():
    paths = join_paths(TIMES, seen(LEFT, RIGHT), markers=2, width=640)
    for path, truth in zip(paths, (LEFT, RIGHT), strict=True):
        assert np.nanmax(off(path, truth)) < 1
        assert np.isnan(path.x).mean() < 0.25


def test_two_that_were_lost_together_are_taken_up_with_a_warning():
    paths = join_paths(TIMES, seen(LEFT, RIGHT, hidden=(1.0, 2.1)), markers=2, width=640)
    assert any(path.guessed for path in paths)


def test_what_stands_still_and_what_is_too_large_is_left_alone():
    banner, clothes = (600.0, 20.0, 150.0, 1.0), (500.0, 300.0, 2000.0, 0.3)
    (path,) = join_paths(TIMES, seen(LEFT, others=[banner, clothes]), width=640)
    assert np.nanmax(off(path, LEFT)) < 1e-9


def test_a_face_that_is_always_there_is_not_taken_for_a_marker_that_is_often_hidden():
    """A face has half of a red marker's colour, is larger, and goes about; the marker is seen in pieces of 0.2 s."""
    pieces = seen(LEFT)
    pieces = [each._replace(mass=each.mass * 3) if k % 15 < 12 else spots() for k, each in enumerate(pieces)]
    faces = np.column_stack([300 + 200 * np.sin(0.7 * TIMES), 60 + 10 * np.sin(1.3 * TIMES)])
    both = [
        spots(*zip(each.x, each.y, each.mass, 0.9 * each.peak, strict=True), (*face, 850.0, 0.57))
        for each, face in zip(pieces, faces, strict=True)
    ]
    (path,) = join_paths(TIMES, both, width=640)
    assert np.nanmax(off(path, LEFT)) < 1e-9
    assert np.isnan(path.x).mean() < 0.3


def test_half_a_marker_is_less_sure():
    whole = seen(LEFT)
    half = [each._replace(mass=each.mass * (0.4 if 50 <= k < 54 else 1)) for k, each in enumerate(whole)]
    (path,) = join_paths(TIMES, half, width=640)
    assert path.confidence[50:54].max() < 0.5 < path.confidence[:50].min()


@pytest.mark.parametrize("count", [0, 1, 2])
def test_nothing_or_next_to_nothing_gives_no_path(count):
    some = [each if k < count else spots() for k, each in enumerate(seen(LEFT))]
    assert join_paths(TIMES, some, width=640) == []
    assert join_paths(TIMES, [spots()] * len(TIMES), markers=2, width=640) == []


def passing(seed: int, rate: float) -> tuple[np.ndarray, list[Spots], tuple[np.ndarray, np.ndarray]]:
    """A marker that goes round, now and then hidden, and passes another one of its colour that lies on a table."""
    rng = np.random.default_rng(seed)
    times = np.arange(0, 8, 1 / rate)
    period, radius, first = rng.uniform(0.5, 0.9), rng.uniform(60, 110), rng.uniform(0, 2 * np.pi)
    turn = 2 * np.pi * times / period + first
    going = np.array([300, 200]) + radius * np.column_stack([np.cos(turn), np.sin(turn)])
    lying = np.tile([300 + radius * rng.uniform(0.8, 1.2), 200.0], (times.size, 1))
    hidden = [(start := rng.uniform(0.5, 7), start + rng.uniform(0.05, 0.3)) for _ in range(3)]
    made = []
    for time, one, other in zip(times, going, lying, strict=True):
        seen = [other] if any(a <= time < b for a, b in hidden) else [one, other]
        places = [place + 0.2 * rng.standard_normal(2) for place in seen]
        near = len(places) == 2 and np.hypot(*(places[0] - places[1])) < 12
        made.append(
            spots((*np.mean(places, axis=0), 250.0, 1.0)) if near else spots(*((*p, 140.0, 1.0) for p in places))
        )
    return times, made, (going, lying)


@pytest.mark.parametrize("seed", [3, 6, 16, 20, 24])
def test_what_lies_still_while_its_like_moves_is_a_gap_and_the_two_do_not_change_places(seed):
    times, made, (going, lying) = passing(seed, 60)
    paths = join_paths(times, made, markers=2, width=640)
    sure = [path.confidence >= 0.5 for path in paths]
    off = [[np.hypot(*(np.column_stack([path.x, path.y]) - truth).T) for truth in (going, lying)] for path in paths]
    mover = int(np.nanmedian(off[1][0]) < np.nanmedian(off[0][0]))
    assert np.nanmax(off[mover][0][sure[mover]]) < 13  # a spot of both, where they touch
    assert sure[1 - mover].mean() < 0.15
    assert paths[1 - mover].still and not paths[mover].still
