"""Windows of a recording are found where they were cut from the music."""

import numpy as np
import pytest

from tempo_coach.music.files.sound import Sound
from tempo_coach.observe.sound.windows import RATE_HZ, STANDS_OUT, WindowLocator, whiten

R = 44100
NOISE = np.random.default_rng(5).standard_normal(6 * RATE_HZ).astype(np.float32)
LENGTH = RATE_HZ


def test_whitening_moves_nothing():
    click = np.zeros((4 * R, 1), np.float32)
    click[2 * R] = 1
    assert int(np.argmax(np.abs(whiten(Sound(click, R))))) == 2 * 8000


@pytest.mark.parametrize("sign", [1, -1])
def test_a_window_is_found_where_it_was_cut_whichever_way_up(sign: int) -> None:
    found = WindowLocator(NOISE, LENGTH).locate(sign * NOISE[3 * RATE_HZ : 4 * RATE_HZ], 0.5)
    assert found.time == 0.5
    assert found.places[0] == 3
    assert found.heights[0] > STANDS_OUT > found.heights[1:].max(initial=0.0)


def test_about_a_place_the_correlation_is_1_at_the_true_lag_and_none_beyond_the_music() -> None:
    locator = WindowLocator(NOISE, LENGTH)
    window = NOISE[2 * RATE_HZ : 3 * RATE_HZ]
    near = locator.near(window, 2 - 10 / RATE_HZ, 20)
    assert near is not None
    assert near.size == 41
    assert int(np.argmax(near)) == 30
    assert near.max() == pytest.approx(1, abs=0.01)
    assert locator.near(window, 0.0, 20) is None
    assert locator.near(window, 5.0, 20) is None
