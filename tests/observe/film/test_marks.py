"""Marks made by hand: numbers of pictures by the film's own times or by a rate, times, and what makes no sense."""

from __future__ import annotations

import numpy as np
import pytest

from tempo_coach.observe.film.frames import look_at_film, read_frames
from tempo_coach.observe.film.marks import frame_times, marks_to_take, read_marks
from tempo_coach.observe.take.clock import ClockLine
from tests.generators import films
from tests.refused import refused

TIMES = films.steady_times(2, 30, jitter=0.2)
HANDS = ("left", "right")


@pytest.fixture(scope="module")
def film(tmp_path_factory):
    scene = films.Scene({}, TIMES, (96, 64))
    path = tmp_path_factory.mktemp("film") / "a.mp4"
    return look_at_film(films.write_film(path, films.pictures(scene), size=(96, 64)))


def table(folder, text):
    path = folder / "marks.csv"
    path.write_text(text, encoding="utf-8")
    return path


def test_times_of_all_pictures_are_those_that_decoding_gives(film):
    assert frame_times(film) == pytest.approx([frame.time for frame in read_frames(film)], abs=1e-9)


def test_numbered_pictures_get_the_films_own_times(film, tmp_path):
    marks = read_marks(table(tmp_path, "frame,hand\n10,left\n20.5,right\n"), hands=HANDS, film=film)
    assert marks.hand == HANDS
    assert marks.time == pytest.approx([TIMES[10], (TIMES[20] + TIMES[21]) / 2], abs=1e-5)


def test_numbered_pictures_get_even_times_where_a_rate_is_told(film, tmp_path):
    path = table(tmp_path, "frame;hand\n60;right\n30;left\n\n")
    for given in (None, film):
        marks = read_marks(path, hands=HANDS, rate_hz=60, film=given)
        assert marks.time.tolist() == [0.5, 1.0] and marks.hand == HANDS


def test_times_are_taken_as_they_are(tmp_path):
    assert read_marks(table(tmp_path, "time\n1.5\n0.25\n"), hands=("rope",)).time.tolist() == [0.25, 1.5]


def test_marks_lie_on_the_take_clock_and_know_their_step(film, tmp_path):
    from tempo_coach.coach import load_drill
    from tempo_coach.music.counts.count_map import CountMap
    from tempo_coach.pattern.plan.layout import lay_out

    plan = lay_out(load_drill("clubs_mills"), CountMap.steady(96), tempo_bpm=96, cycles=4)
    marks = read_marks(table(tmp_path, "time,hand\n4,left\n12,right\n"), hands=HANDS)
    take = marks_to_take(marks, plan, ClockLine(2.0, 10.0, 1.0, 0.0, 1), slowed=4, rate_hz=240)
    # 2 s after the film's second 2, four times slowed, is half a second of life
    assert take.onsets.time.tolist() == [10.5, 12.5]
    assert take.observed_by == "film"
    assert take.noise_floor_ms == pytest.approx(1000 / 240 / np.sqrt(12))


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "empty"),
        ("frame,hand\n", "nothing is marked"),
        ("number,hand\n1,left\n", "found the columns"),
        ("frame\n1\n", "found the columns"),
        ("frame,hand\nten,left\n", r"marks\.csv:2: expected a frame"),
        ("frame,hand\n-1,left\n", "expected a frame"),
        ("frame,hand\n1,left\n2,lfet\n", r"marks\.csv:3.*did you mean left"),
        ("frame,hand\n999,left\n", "has 60 pictures"),
    ],
)
def test_what_makes_no_sense_is_said(film, tmp_path, text, words):
    with refused(words):
        read_marks(table(tmp_path, text), hands=HANDS, film=film)


def test_a_missing_table_and_a_missing_rate_are_said(tmp_path):
    with refused("no such file"):
        read_marks(tmp_path / "gone.csv", hands=HANDS)
    with refused("--fps"):
        read_marks(table(tmp_path, "frame,hand\n1,left\n"), hands=HANDS)
    with refused("pictures a second"):
        read_marks(table(tmp_path, "frame,hand\n1,left\n"), hands=HANDS, rate_hz=0)
