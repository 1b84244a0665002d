"""Beats found in sounds whose beats are known."""

import numpy as np
import pytest

from tempo_coach.music.beats import finder
from tempo_coach.music.beats.evidence import NETWORK_SCORING, Evidence
from tempo_coach.music.beats.finder import Beats, Rest, find_beats
from tempo_coach.music.beats.network import TEMPI, Activations
from tempo_coach.music.beats.tempo import INTERVALS
from tempo_coach.music.files.sound import Sound
from tests.refused import refused

RATE_HZ = 44_100


def clicks(times, *, seconds, rate_hz=RATE_HZ):
    """Clicks of 20 ms that begin at the given times, sample-exact to the half sample."""
    samples = np.zeros((int(seconds * rate_hz), 1))
    decay = np.arange(int(0.02 * rate_hz)) / rate_hz
    click = 0.5 * np.exp(-decay / 0.005) * np.sin(2 * np.pi * 1000 * decay)
    for time in times:
        start = round(time * rate_hz)
        samples[start : start + len(click), 0] += click[: len(samples) - start]
    return Sound(samples, rate_hz)


def bending(seconds, *, period=0.5, depth=0.08):
    times = [0.5]
    while times[-1] < seconds - 1:
        times.append(times[-1] + period * (1 + depth * np.sin(times[-1] / 7)))
    return np.array(times)


def errors(found, true):
    nearest = found[np.abs(found[:, None] - true).argmin(axis=0)]
    return nearest - true


@pytest.mark.parametrize("use_network", [True, False])
@pytest.mark.parametrize("period", [0.4, 0.5, 0.65])
def test_beats_of_clicks_that_bend_are_placed_within_milliseconds(period, use_network):
    true = bending(60, period=period)
    found = find_beats(clicks(true, seconds=60), use_network=use_network)
    off = errors(found.times, true)
    assert len(found.times) == len(true)
    assert np.median(np.abs(off)) < 0.005
    assert abs(off.mean()) < 0.002
    assert found.rests == ()
    assert abs(found.tempo_bpm - 60 / np.median(np.diff(true))) < 1
    assert found.duration == 60


def test_a_pause_stays_a_pause():
    true = bending(60)
    true = true[(true < 25) | (true > 30)]
    found = find_beats(clicks(true, seconds=60), use_network=False)
    assert len(found.times) == len(true)
    last = true[true < 25][-1]
    assert found.rests == (Rest(pytest.approx(last, abs=0.005), pytest.approx(true[true > 30][0], abs=0.005)),)


@pytest.mark.parametrize("rate_hz", [8000, 192_000])
def test_beats_are_found_at_any_rate(rate_hz):
    true = bending(20)
    off = errors(find_beats(clicks(true, seconds=20, rate_hz=rate_hz), use_network=False).times, true)
    assert np.median(np.abs(off)) < 0.005


@pytest.mark.parametrize("times", [[], [3.0]], ids=["silence", "one click"])
def test_without_a_beat_the_music_is_refused(times):
    with refused("no beat"):
        find_beats(clicks(times, seconds=10))


@pytest.mark.parametrize("tempo_bpm", [0, 1000, float("nan")])
def test_a_tempo_that_nobody_counts_is_refused(tempo_bpm):
    with refused("expected a tempo"):
        find_beats(clicks([1], seconds=2), tempo_bpm=tempo_bpm)


def test_beats_are_checked_when_made():
    good = {"times": [0, 1], "bar": [1, 2], "confidence": [1, 0], "rests": (), "doubtful": (), "duration": 2}
    assert Beats(**good).tempo_bpm == 60
    for name, wrong in [("times", [1, 1]), ("bar", [0, 1]), ("bar", [1]), ("confidence", [0, 1.1])]:
        with pytest.raises(ValueError, match=name):
            Beats(**(good | {name: wrong}))


def test_meter_and_a_known_one_number_the_bars():
    true = 0.5 * np.arange(1, 60)
    found = find_beats(clicks(true, seconds=31), meter=3, one_at=float(true[7]) + 0.1)
    assert found.bar[7] == 1
    assert found.bar[:9].tolist() == [3, 1, 2, 3, 1, 2, 3, 1, 2]
    with refused("2 to 12 beats a bar"):
        find_beats(clicks(true, seconds=31), meter=1)


def test_taps_decide_where_the_beats_are():
    true = 0.5 * np.arange(1, 60)
    taps = true[::2] - 0.03 + np.random.default_rng(0).normal(0, 0.03, 30)
    found = find_beats(clicks(true, seconds=31), taps=taps)
    assert len(found.times) == 30
    assert np.abs(found.times - true[::2]).max() < 0.005
    assert found.confidence.min() > 0.5


def test_six_channels_at_192_khz_are_heard_and_progress_only_grows():
    true = bending(20)
    mono = clicks(true, seconds=20, rate_hz=192_000).samples
    done = []
    found = find_beats(Sound(np.repeat(mono, 6, axis=1), 192_000), progress=done.append)
    assert len(found.times) == len(true)
    assert done == sorted(done)
    assert done[-1] == 1


def test_beats_of_channels_that_cancel_each_other_are_found():
    true = bending(20)
    click = clicks(true, seconds=20).samples
    found = find_beats(Sound(np.concatenate([click, -click], axis=1), RATE_HZ), use_network=False)
    assert len(found.times) == len(true)


def evidence_against(interval, *, frames=3000):
    """Beats every so many frames, half of them strong, in a tempogram that is sure of twice the interval."""
    beat = np.zeros(frames, np.float32)
    beat[interval::interval] = 0.7
    beat[interval :: 2 * interval] = 0.95
    tempo = np.full((frames // 50 + 1, len(INTERVALS)), -6.9, np.float32)
    tempo[:, np.abs(INTERVALS - 2 * interval) < 5] = 0
    return Evidence(beat, tempo, NETWORK_SCORING, np.zeros(0, np.float32), None)


def test_a_hint_is_followed_however_sure_the_tempogram_is_of_another_level(monkeypatch):
    monkeypatch.setattr(Evidence, "place", lambda _, frames: frames / finder.FRAME_HZ)
    evidence = evidence_against(50)
    assert np.diff(finder._search(evidence, None).times).mean() == pytest.approx(1.0, abs=0.02)
    hinted = finder._search(evidence, 120.0)
    assert np.diff(hinted.times).mean() == pytest.approx(0.5, abs=0.01)
    assert len(hinted.times) > 50


def test_clear_beats_go_on_though_their_tempo_is_far_from_what_is_usual(monkeypatch):
    # at 46 a minute the prior alone would have them rest
    monkeypatch.setattr(Evidence, "place", lambda _, frames: frames / finder.FRAME_HZ)
    beat = np.zeros(6000, np.float32)
    beat[130::130] = 0.5
    tempo = np.full((121, len(INTERVALS)), -6.9, np.float32)
    tempo[:, INTERVALS == 130] = 0
    likely = np.abs(np.log(TEMPI / 46.3)) < 0.015
    for sure in (likely / likely.sum(), np.full(len(TEMPI), 1 / len(TEMPI))):
        heard = Activations(beat**2, beat**2, beat**2, np.tile(sure, (6000, 1)))
        evidence = Evidence(beat, tempo, NETWORK_SCORING, np.zeros(26461, np.float32), heard)
        if sure.max() < 0.1:
            with refused("no beat"):
                finder._search(evidence)
        else:
            assert np.diff(finder._search(evidence).times) * finder.FRAME_HZ == pytest.approx(130, abs=1)


def test_a_hint_changes_nothing_where_the_music_goes_at_it_unaided():
    true = bending(40, depth=0.2)
    sound = clicks(true, seconds=40)
    for hint in (115, 125):
        np.testing.assert_array_equal(find_beats(sound, tempo_bpm=hint).times, find_beats(sound).times)
