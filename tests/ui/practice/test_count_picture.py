"""The picture of a count: the number is there, large, and nothing leaves the card."""

import numpy as np
import pytest

from tempo_coach.coach.count_film import FilmStep
from tempo_coach.ui.practice.count_picture import SIZE, draw_step


def test_the_count_is_large_and_each_step_looks_another_way():
    pytest.importorskip("cv2")
    three = draw_step(FilmStep(0.0, 3, 2, "Ball: bounces", "toss right", 4, "chin up"), title="invented")
    assert three.shape == (SIZE[1], SIZE[0], 3)
    dark = three[120:, :800].max(axis=2) < 60
    assert np.ptp(np.flatnonzero(dark.any(axis=1))) > 400
    others = [draw_step(FilmStep(0.0, count, 2), title="invented") for count in range(1, 9)]
    assert len({each.tobytes() for each in others}) == 8
    waiting = draw_step(FilmStep(0.0, None, 2), title="invented")
    assert not np.array_equal(waiting, draw_step(FilmStep(0.0, None, None), title="invented"))


def test_a_long_name_stays_on_the_card():
    pytest.importorskip("cv2")
    long = FilmStep(0.0, 1, 1, "a very long name of a movement " * 6, "another one that is long " * 6, 3, "r " * 300)
    drawn = draw_step(long, title="invented")
    assert (drawn[120:-1, -40:] == drawn[200, -1]).all()
