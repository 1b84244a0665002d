"""A camera that shakes is found from what stands still behind the markers."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from tempo_coach.observe.film.camera import SAME, CameraTracker, compensate, enlarge, extent_of, stands_still
from tests.generators import films

SIZE = (320, 192)


@pytest.mark.parametrize("shake", [0.0, 4.0])
def test_the_camera_is_found_from_the_background(shake):
    times = films.steady_times(1.5, 20)
    scene = films.Scene(
        {"a": films.Marker(films.RED, films.turning(lambda t: t / 0.6, (160, 90), 40))},
        times, SIZE, shake=shake, people=1, seed=3,
    )  # fmt: skip
    lumas = [np.ascontiguousarray(films.to_frame(p).luma) for _, p in films.pictures(scene)]
    tracker = CameraTracker(lumas[0])
    moves = np.array([tracker.move(luma) for luma in lumas])
    middle = np.array([160.0, 96.0])
    found = moves[:, :, :2] @ middle + moves[:, :, 2] - middle
    truth = np.array([scene.shift(t) - scene.shift(times[0]) for t in times])
    assert np.abs(found - truth).max() < 0.25
    assert stands_still(moves, *SIZE) == (shake == 0)
    x, y = compensate(moves, *(middle + truth).T)
    assert np.abs(np.column_stack([x, y]) - middle).max() < 0.25


def test_a_view_without_corners_is_not_followed_and_does_no_harm():
    flat = np.full((96, 160), 120, np.uint8)
    tracker = CameraTracker(flat)
    assert np.array_equal(tracker.move(flat), [[1, 0, 0], [0, 1, 0]])
    assert tracker.believed == [False]
    assert tracker.settle([SAME], 160, 96).state == "unknown"


def test_before_a_plain_wall_her_movement_is_not_taken_for_the_cameras():
    """All corners lie on what moves: a disc that circles, its edge and its spots; the camera stands still."""
    times = films.steady_times(3, 20)
    lumas = []
    for time in times:
        picture = np.full((SIZE[1], SIZE[0]), 150, np.uint8)
        x, y = 160 + 40 * np.cos(2 * np.pi * time), 96 + 40 * np.sin(2 * np.pi * time)
        for k in range(12):
            angle = k * np.pi / 6
            cv2.circle(picture, (round(x + 14 * np.cos(angle)), round(y + 14 * np.sin(angle))), 3, 60 + 10 * k, -1)
        lumas.append(picture)
    tracker = CameraTracker(lumas[0])
    motion = tracker.settle([tracker.move(luma) for luma in lumas], *SIZE)
    assert motion.state == "unknown"
    assert np.array_equal(motion.moves, np.broadcast_to(SAME, motion.moves.shape))


def test_moves_of_small_pictures_become_those_of_large_ones():
    """A turn about the centre of a large picture is the same turn when found in a picture half its size."""
    angle = 0.01
    turn = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
    small, large = np.array([79.5, 47.5]), np.array([159.5, 95.5])  # centres, the first pixel's centre being 0
    move = np.column_stack([turn, small - turn @ small])[None]
    assert enlarge(move, 2.0)[0, :, 2] == pytest.approx(large - turn @ large)


@pytest.mark.parametrize(("shift", "turn", "far"), [(4.0, 0.0, 4.0), (0.4, 0.0, 0.4), (0.0, 0.01, 6.4)])
def test_how_far_the_camera_moved_is_told_for_where_it_moved_most(shift, turn, far):
    """A turn about a corner moves that corner by nothing, and the opposite one (640 px away) by 640 times the angle."""
    moves = np.tile(np.array([[1.0, 0, 0], [0, 1.0, 0]]), (2, 1, 1))
    moves[1] = [[np.cos(turn), -np.sin(turn), shift], [np.sin(turn), np.cos(turn), 0]]
    assert extent_of(moves, 640, 10) == pytest.approx(far, abs=0.05)
