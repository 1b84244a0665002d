"""Spots to runs: a run goes on while nothing is in doubt, and ends where two may have met."""

import numpy as np

from tempo_coach.observe.film.paths import SHORTEST, Tracklet, make_tracklets
from tempo_coach.observe.film.spots import Spots

TIMES = np.arange(30) / 60


def spots(*points: tuple[float, float, float]) -> Spots:
    x, y, mass = np.array(points, dtype=float).reshape(-1, 3).T
    return Spots(x, y, mass, np.ones(x.size), np.zeros(x.size, bool), np.zeros((x.size, 3)))


def long(tracklets: list[Tracklet]) -> list[Tracklet]:
    return [tracklet for tracklet in tracklets if len(tracklet.frames) >= SHORTEST]


def test_one_marker_is_one_run_over_a_missed_picture_and_two_over_a_longer_gap() -> None:
    seen = [spots((10 + 4 * k, 50, 140)) for k in range(30)]
    (one,) = make_tracklets(TIMES, [spots() if k == 12 else each for k, each in enumerate(seen)], 1)
    assert one.frames == [k for k in range(30) if k != 12]
    two = make_tracklets(TIMES, [spots() if 12 <= k < 15 else each for k, each in enumerate(seen)], 1)
    assert [tracklet.frames for tracklet in two] == [list(range(12)), list(range(15, 30))]


def test_both_runs_end_where_two_markers_become_one_spot() -> None:
    seen = []
    for k in range(30):
        a, b = 20 + 6 * k, 194 - 6 * k
        seen.append(spots(((a + b) / 2, 50, 280)) if abs(a - b) < 14 else spots((a, 50, 140), (b, 50, 140)))
    tracklets = long(make_tracklets(TIMES, seen, 2))
    met = [k for k, each in enumerate(seen) if each.x.size == 1]
    assert met
    assert sorted(tracklet.frames[-1] for tracklet in tracklets if tracklet.frames[0] == 0) == [met[0] - 1] * 2
    assert not any(tracklet.frames[0] < met[0] and tracklet.frames[-1] > met[-1] for tracklet in tracklets)


def test_a_run_says_where_it_goes_on_and_came_from() -> None:
    tracklet = Tracklet()
    for k in range(6):
        tracklet.add(k, TIMES[k], spots((10 + 6 * k, 50 + k * k, 140)), 0)
    assert np.allclose(tracklet.predict(TIMES[6]), (46, 86))
    assert np.allclose(tracklet.predict(TIMES[0] - 1 / 60, backwards=True), (4, 51))
    assert np.isclose(tracklet.speed(backwards=True), 60 * np.hypot(6, 1))
