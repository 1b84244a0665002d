"""The player without sound keeps the same face and the same time."""

from __future__ import annotations

import math

import numpy as np
import pytest

from tempo_coach.live.audio.playback import NewsKind, State
from tempo_coach.live.audio.player import BEFORE
from tempo_coach.live.audio.silent import SilentClock
from tempo_coach.live.notices import Notice, Trouble

RATE = 48_000


class Clock:
    now = 100.0

    def __call__(self) -> float:
        return self.now


def make() -> tuple[SilentClock, Clock]:
    clock = Clock()
    return SilentClock(Notice(Trouble.NO_LIBRARY), clock=clock), clock


def test_it_names_itself_and_says_why():
    player, _ = make()
    assert player.silent
    assert player.name == "silent clock"
    assert player.notice == Notice(Trouble.NO_LIBRARY)
    assert player.state is State.IDLE
    assert player.poll() == []
    assert player.position() == -BEFORE


def test_a_take_begins_runs_and_finishes_by_the_clock():
    player, clock = make()
    player.start(np.zeros((2 * RATE, 2)), RATE)
    assert [one.kind for one in player.poll()] == [NewsKind.PLAYING]
    assert player.position() == -BEFORE
    clock.now += BEFORE + 1.5
    assert player.poll() == []
    assert player.position() == pytest.approx(1.5)
    assert player.take_time(clock.now - 0.25) == pytest.approx(1.25)
    clock.now += 1.0
    assert [one.kind for one in player.poll()] == [NewsKind.FINISHED]
    assert player.state is State.FINISHED
    assert player.take_time(clock.now) == pytest.approx(2.5), "a tap after the last sample still has its time"
    assert player.poll() == []


def test_a_stop_stands_still_and_stamps_keep_their_time():
    player, clock = make()
    player.start(np.zeros(10 * RATE), RATE)
    clock.now += BEFORE + 2
    player.stop()
    clock.now += 3
    assert player.position() == pytest.approx(2.0)
    assert player.take_time(100 + BEFORE + 1) == pytest.approx(1.0)
    assert math.isnan(player.take_time(clock.now))
    assert not player.measurable(math.nan)
    assert player.measurable(1.0)
    player.close()
    assert player.state is State.IDLE


def test_a_take_may_begin_later():
    player, clock = make()
    player.start(np.zeros(10 * RATE), RATE, first_frame=3 * RATE)
    clock.now += BEFORE
    assert player.position() == pytest.approx(3.0)


def test_it_never_pauses():
    player, _ = make()
    assert not player.can_resume
    with pytest.raises(ValueError, match="never pauses"):
        player.resume()


def test_what_loops_never_finishes_and_take_time_goes_on():
    player, clock = make()
    player.start(np.zeros((RATE, 2)), RATE, loops=True)
    player.poll()
    clock.now += BEFORE + 3.25
    assert player.poll() == [] and player.state is State.PLAYING
    assert player.position() == pytest.approx(3.25)
