"""Slower and faster: clicks in their place, lengths exact, pitch kept."""

import numpy as np
import pytest

from tempo_coach.music.files import stretch as stretching
from tempo_coach.music.files.sound import Sound
from tempo_coach.music.files.stretch import stretch

RATE = 48_000


def clicks_at(times, seconds=8.0):
    samples = np.zeros((int(seconds * RATE), 2), np.float32)
    burst = np.random.default_rng(1).normal(size=48) * np.hanning(48)
    for time in times:
        start = round(time * RATE)
        samples[start : start + 48] += burst[:, np.newaxis].astype(np.float32)
    return Sound(samples, RATE)


def centre_of(samples, near):
    middle = round(near * RATE)
    power = samples[middle - 2400 : middle + 2400, 0].astype(float) ** 2
    return (middle - 2400 + (power * np.arange(4800)).sum() / power.sum()) / RATE


@pytest.mark.parametrize("speed", [0.5, 0.8, 0.9, 1.2])
def test_a_click_stays_within_a_millisecond_of_its_place_and_the_length_is_exact(speed):
    times = np.arange(1.0, 7.5, 0.77)
    sound = clicks_at(times)
    slow = stretch(sound, speed)
    assert len(slow.samples) == round(len(sound.samples) / speed)
    half_burst = 24 / RATE
    errors = [centre_of(slow.samples, t / speed) - (t + half_burst) / speed for t in times]
    assert np.abs(errors).max() < 0.001


def test_the_pitch_is_kept():
    t = np.arange(RATE * 4) / RATE
    tone = Sound(np.sin(2 * np.pi * 440 * t)[:, np.newaxis], RATE)
    slow = stretch(tone, 0.8).samples[RATE : 3 * RATE, 0]
    spectrum = np.abs(np.fft.rfft(slow * np.hanning(slow.size)))
    assert np.argmax(spectrum) * RATE / slow.size == pytest.approx(440, abs=1)


def test_full_speed_and_no_sound_are_left_as_they_are():
    sound = clicks_at([1.0])
    assert stretch(sound, 1.0) is sound
    nothing = Sound(np.zeros((0, 1)), RATE)
    assert stretch(nothing, 0.8) is nothing
    with pytest.raises(ValueError, match="above 0"):
        stretch(sound, 0)


@pytest.mark.parametrize("speed", [0.8, 1.1])
def test_without_the_spectral_method_the_vocoder_does_it_with_its_lateness_taken_out(speed, monkeypatch):
    """Its smear stays (some ms); what is common to all clicks does not."""
    monkeypatch.setattr("tempo_coach.music.files.stretch.keeps_onsets", lambda: False)
    times = np.arange(0.7, 11.0, 0.531)
    sound = clicks_at(times, 12.0)
    slow = stretch(sound, speed)
    assert len(slow.samples) == round(len(sound.samples) / speed)
    errors = [centre_of(slow.samples, t / speed) - (t + 24 / RATE) / speed for t in times]
    assert abs(np.mean(errors)) < 0.002
    assert np.abs(errors).max() < 0.015


@pytest.mark.parametrize("late", [-0.004, 0.0, 0.006])
def test_the_lateness_that_is_measured_is_that_of_many_clicks(late, monkeypatch):
    def stretch_late(samples, rate_hz, speed):
        """Clicks exactly where they belong, but for that lateness."""
        slow = np.zeros((round(len(samples) / speed), 1), np.float32)
        found = np.flatnonzero(np.abs(samples[:, 0]) > 0)
        begins = found[np.insert(np.diff(found) > rate_hz // 10, 0, True)]
        for begin in begins:
            middle = (begin + 0.0005 * rate_hz) / speed + late * rate_hz
            slow[round(middle) - 24 : round(middle) + 25] = 0.5
        return slow

    monkeypatch.setattr(stretching, "_stretch_by_vocoder", stretch_late)
    measure = stretching.measure_vocoder.__wrapped__  # it is kept from call to call
    assert measure(RATE, 0.8) == pytest.approx(late, abs=2 / RATE)


@pytest.mark.parametrize("late", [-0.006, 0.0, 0.01])
def test_the_vocoders_lateness_is_taken_out_in_whole(late, monkeypatch):
    def stretch_late(samples, rate_hz, speed):
        slow = np.zeros((round(len(samples) / speed), samples.shape[1]), np.float32)
        slow[round((2.0 / speed + late) * rate_hz)] = 1.0
        return slow

    monkeypatch.setattr(stretching, "keeps_onsets", lambda: False)
    monkeypatch.setattr(stretching, "measure_vocoder", lambda rate_hz, speed: late)
    monkeypatch.setattr(stretching, "_stretch_by_vocoder", stretch_late)
    sound = clicks_at([2.0])
    slow = stretch(sound, 0.8)
    assert len(slow.samples) == round(len(sound.samples) / 0.8)
    assert np.flatnonzero(slow.samples[:, 0]).tolist() == [round(2.5 * RATE)]
