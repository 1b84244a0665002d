"""Some pictures of a film: spread over its window, few, and the one nearest to a time."""

from __future__ import annotations

import numpy as np
import pytest

from tempo_coach.errors import CoachError
from tempo_coach.observe.film.colour_choice import _thin, frame_near, sample_frames
from tempo_coach.observe.film.frames import look_at_film
from tempo_coach.report.words.errors import hint_of, message_of
from tests.generators import films

TIMES = films.steady_times(4, 25, jitter=0.2)


@pytest.fixture(scope="module")
def path(tmp_path_factory):
    folder = tmp_path_factory.mktemp("Zoë 🤸")
    return films.write_film(folder / "ü.mp4", films.pictures(films.Scene({}, TIMES, (96, 64))), size=(96, 64))


def time_of(frame):
    return frame.time


def test_pictures_are_spread_over_the_film_and_no_more_than_asked_for(path):
    found = sample_frames(look_at_film(path), time_of)
    assert 11 <= len(found) <= 21
    assert np.isin(np.round(found, 4), np.round(TIMES, 4)).all()
    assert (np.diff(found) > 0).all()
    assert found[0] < 0.3 and found[-1] > 3.5
    assert np.diff(found).max() < 2.5 * 4 / 21
    assert len(sample_frames(look_at_film(path), time_of, at_most=5, at_least=3)) <= 5


def test_only_the_window_is_looked_at(path):
    found = sample_frames(look_at_film(path, start=1.0, end=2.0), time_of)
    assert 1.0 <= found[0] < 1.1 and 1.9 < found[-1] <= 2.0


def test_pictures_that_can_be_decoded_alone_are_enough_where_there_are_enough(path, monkeypatch):
    from tempo_coach.observe.film import colour_choice

    def never(_):
        raise AssertionError

    monkeypatch.setattr(colour_choice, "read_frames", never)
    (first, *_) = sample_frames(look_at_film(path), time_of, at_least=1)
    assert first == pytest.approx(0, abs=1e-6)


def test_a_film_without_one_picture_in_its_window_is_said(path):
    with pytest.raises(CoachError):
        sample_frames(look_at_film(path, start=3.9999), time_of)


@pytest.mark.parametrize("n", [0, 1, 5, 6, 9, 10, 11, 57, 1000])
def test_values_are_thinned_at_even_steps_without_holding_them(n):
    kept = _thin(iter(range(n)), 5)
    assert len(kept) <= 5 and kept[:1] == [0][:n]
    assert len(set(np.diff(kept).tolist())) <= 1
    assert len(kept) >= min(n, 3)


@pytest.mark.parametrize("number", [0, 1, 40, 99])
def test_the_picture_nearest_to_a_time_is_found(path, number):
    film = look_at_film(path)
    for away in (-0.003, 0.0, 0.003):
        assert frame_near(film, TIMES[number] + away).time == pytest.approx(TIMES[number], abs=1e-4)


def test_the_nearest_picture_may_lie_outside_of_the_window_that_is_scored(path):
    assert frame_near(look_at_film(path, start=1, end=2), 3.0).time == pytest.approx(3.0, abs=0.03)


@pytest.mark.parametrize("time", [4.6, 99.0, -0.7])
def test_a_time_without_a_picture_within_half_a_second_is_said(path, time):
    film = look_at_film(path)
    with pytest.raises(CoachError) as caught:
        frame_near(film, time)
    assert message_of(caught.value) == f"the film has no picture at {time:g} s"
    assert (caught.value.where, hint_of(caught.value)) == (str(path), f"it lasts {film.duration:.1f} s")
