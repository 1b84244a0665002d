"""Which cycles of a film are shown: the one that broke, or the one asked for, and her median one."""

import numpy as np
import pytest

from tempo_coach.observe.film.film_trace import FilmTrace
from tempo_coach.observe.film.frames import Film
from tempo_coach.observe.film.shown_cycles import choose_cycles
from tempo_coach.observe.trace.trace import Channel, Trace
from tests.refused import refused

PERIODS = np.array([0.70, 0.71, 0.69, 0.70, 0.88, 0.70, 0.705, 0.70, 0.69, 0.71])


def followed(periods=PERIODS):
    """A marker that goes round, each circle as long as is said."""
    marks = np.concatenate([[0.0], np.cumsum(periods)])
    time = np.arange(0, marks[-1], 1 / 60)
    turn = 2 * np.pi * np.interp(time, marks, np.arange(marks.size))
    values = np.column_stack([160 + 60 * np.sin(turn), -90 - 60 * np.cos(turn), np.ones(time.size)])
    channels = [Channel(f"club {axis} (px)", "position", axis, "club", "px") for axis in "xy"]
    channels.append(Channel("club confidence", "other", "", "club confidence"))
    moves = np.tile(np.array([[1.0, 0, 0], [0, 1.0, 0]]), (time.size, 1, 1))
    film = Film("made_up.mp4", 320, 180, 0, 60.0, 0.0, float(time[-1]), float(time[-1]), False)
    return FilmTrace(film, Trace(time, values, channels), (), moves, ())


def test_the_cycle_that_broke_is_shown_beside_the_median_one():
    broken, usual = choose_cycles(followed())
    assert broken.lasts == pytest.approx(0.88, abs=0.02)
    assert usual.lasts == pytest.approx(0.70, abs=0.01)


def test_a_cycle_is_asked_for_by_its_number_or_by_where_it_begins():
    found = followed()
    asked, usual = choose_cycles(found, number=2)
    assert asked.number == 2 != usual.number
    assert choose_cycles(found, begins=asked.start + 0.1)[0] == asked
    with refused("expected a whole cycle from 1"):
        choose_cycles(found, number=40)


def test_two_cycles_have_no_median():
    with refused("film more of it"):
        choose_cycles(followed(np.array([0.7, 0.7, 0.7])))
