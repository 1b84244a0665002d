"""Sounds that do not say whose they are go to the hands of a plan."""

from dataclasses import replace

import numpy as np
import pytest

from tempo_coach import coach
from tempo_coach.music.files.sound import Sound
from tempo_coach.observe.sound.kinds import make_detector
from tempo_coach.observe.sound.sound_take import Recording, assign_hands, calibrate_from, hear_take
from tempo_coach.observe.take.clock import ClockLine
from tests.generators import contacts
from tests.refused import into, refused

R = contacts.RATE_HZ


@pytest.fixture(scope="module")
def plan():
    """Two hands by turns."""
    return coach.lay(coach.Request("clubs_mills", tempo_bpm=60, cycles=6))


def whose(onsets, moments):
    return [onsets.hand[int(np.abs(onsets.time - time).argmin())] for time in moments]


@pytest.mark.parametrize("late", [0.0, 0.08, -0.06])
def test_each_goes_to_the_hand_of_its_moment_however_late_all_are(plan, late):
    onsets, both = assign_hands(plan.moments.time + late, plan)
    assert both == 0
    np.testing.assert_allclose(onsets.time, plan.moments.time + late)
    assert onsets.hand == plan.moments.hand


def test_one_missing_and_one_extra_leave_the_others_where_they_are(plan):
    times = np.delete(plan.moments.time, 4)
    onsets, _ = assign_hands(times, plan)
    assert onsets.hand == tuple(np.delete(plan.moments.hand, 4))
    extra = np.sort(np.append(plan.moments.time, plan.moments.time[3] + 0.11))
    onsets, _ = assign_hands(extra, plan)
    assert len(onsets) == len(extra)
    assert whose(onsets, plan.moments.time) == list(plan.moments.hand)


def test_what_was_done_before_and_after_the_go_is_left_out(plan):
    first, last = plan.moments.time[[0, -1]]
    times = np.concatenate([[first - 3.1, first - 2.4], plan.moments.time, [last + 2.7]])
    onsets, _ = assign_hands(times, plan)
    np.testing.assert_allclose(onsets.time, plan.moments.time)


def test_one_sound_answers_two_hands_that_are_asked_for_at_once(plan):
    moments = plan.moments
    # each hand by turns, 10 ms after the other's moment before it
    times = moments.time.copy()
    times[1::2] = times[::2] + 0.01
    onsets, both = assign_hands(times[::2], replace(plan, moments=replace(moments, time=times)))
    assert both == len(times[::2])
    assert sorted(onsets.hand) == sorted(moments.hand)


def test_nothing_gives_nothing(plan):
    onsets, both = assign_hands(np.zeros(0), plan)
    assert (len(onsets), both) == (0, 0)
    assert len(assign_hands(plan.moments.time[:1], plan)[0]) == 1


def test_what_was_not_recorded_is_not_missed_and_is_said(plan):
    wave = np.zeros(round(20 * R))
    strike = contacts.clap(np.random.default_rng(0))
    for time in plan.moments.time:
        part = wave[round(time * R) :][: len(strike)]
        part += 0.3 * strike[: len(part)]
    half = float(plan.moments.time[len(plan.moments) // 2]) + 0.2
    recording = Recording(Sound(wave[: round(half * R), np.newaxis], R), 0.0, "half.wav")
    line = ClockLine(0.0, 0.0, 1.0, 0.0, 2)
    said: list[str] = []
    take = hear_take(recording, plan, make_detector("clap"), line, warn=into(said)).take
    assert len(take.plan.moments) == len(plan.moments) // 2 + 1 == len(take.onsets)
    assert any("were not recorded" in each for each in said)
    np.testing.assert_allclose(take.onsets.time, take.plan.moments.time, atol=0.001)


def test_a_clap_before_the_recording_began_keeps_its_own_clock(plan):
    recording = Recording(Sound(np.zeros((R, 1)), R), 3.0, "film.mp4")
    with refused(r"film\.mp4.*holds -47"):
        hear_take(recording, plan, make_detector("clap"), ClockLine(50.0, 0.0, 1.0, 0.0, 2))


def test_an_ear_learns_from_two_stretches_of_the_recording():
    quiet, sample = contacts.quiet_and_sample("clap", 2)
    both = Recording(Sound(np.concatenate([quiet.samples, sample.samples]), R), 5.0, "gym.wav")
    detector = calibrate_from(both, make_detector("clap"), (5.0, 6.5), (6.5, 9.5))
    assert detector.threshold is not None
    with refused("does not stand out"):
        calibrate_from(both, make_detector("clap"), (5.0, 5.7), (5.7, 6.4))
