"""The delay of a film's picture, from contacts that are both seen and heard."""

import numpy as np
import pytest

from tempo_coach.observe.film.frames import look_at_film
from tempo_coach.observe.film.seen_contacts import DELAYS, _find_kink, find_delay
from tests.generators import films, met
from tests.refused import refused

SMALL = {"size": (320, 180), "shake": 1.5}


@pytest.mark.parametrize("ball", [True, False])
def test_three_contacts_tell_the_delay_of_the_picture(tmp_path, ball):
    film = met.make(4, ball=ball, delay=0.07, **SMALL)
    found = find_delay(look_at_film(met.write(film, tmp_path / "met.mp4")))
    assert found.delay == pytest.approx(0.07, abs=0.020)
    assert found.heard == pytest.approx(np.array(film.met) - 0.07, abs=0.002)


def test_a_kink_between_two_pictures_is_found_where_it_is():
    times = np.arange(0, 1, 1 / 30)
    for true in (0.48, 0.49, 0.512):
        since = times - true
        place = np.where(since < 0, 300 * since + 500 * since**2, -120 * since)
        pictures = np.column_stack([place, 0.3 * place + 5, np.sin(3 * times)])
        delay = DELAYS[np.argmax(_find_kink(times, pictures, 0.45)[1])]
        assert delay == pytest.approx(true - 0.45, abs=0.004)


def test_sounds_without_anything_to_see_are_refused(tmp_path):
    film = met.make(4, ball=True, **SMALL)
    still = films.write_film(
        tmp_path / "still.mp4",
        ((time, np.full((96, 160, 3), 120, np.uint8)) for time in film.times()),
        size=(160, 96),
        sound=np.random.default_rng(0).normal(0, 0.002, 48_000 * 4).astype(np.float32),
    )
    with refused("expected 3 claps or more"):
        find_delay(look_at_film(still))
    silent = films.write_film(
        tmp_path / "silent.mp4", films.pictures(films.Scene({}, film.times()[:5], (160, 96))), size=(160, 96)
    )
    with refused("no sound"):
        find_delay(look_at_film(silent))
