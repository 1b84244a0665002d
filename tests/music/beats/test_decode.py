"""The search for the most likely row of beats, on curves whose best row is known."""

from dataclasses import replace

import numpy as np
import pytest

from tempo_coach.music.beats import decode as decoding
from tempo_coach.music.beats.decode import decode
from tempo_coach.music.beats.evidence import NETWORK_SCORING
from tempo_coach.music.beats.scoring import IntervalScores, Scoring
from tempo_coach.music.beats.tempo import look_for_tempo, make_tempo_prior

PRICES = Scoring()


def curve(frames, length):
    values = np.full(length, -0.3, dtype=np.float32)
    values[np.asarray(frames)] = 4
    return values


def search(values, *, hint_bpm=None):
    prior = make_tempo_prior(hint_bpm, prior_bpm=PRICES.prior_bpm, octaves=PRICES.octaves)
    return decode(values, look_for_tempo(values), prior, PRICES)


def test_a_steady_row_is_found_and_its_beats_are_sure():
    frames = np.arange(30, 3000, 50)
    found = search(curve(frames, 3030))
    assert found.frames.tolist() == frames.tolist()
    assert (found.intervals[1:] == 50).all()
    assert found.after_rest.tolist() == [True] + [False] * (len(frames) - 1)
    assert (found.margin[2:-2] > PRICES.sure / 2).all()


def test_a_gap_is_a_rest_and_a_cut_to_another_tempo_is_followed():
    frames = np.concatenate([np.arange(30, 2000, 50), np.arange(2500, 4000, 60)])
    found = search(curve(frames, 4030))
    assert found.frames.tolist() == frames.tolist()
    assert np.flatnonzero(found.after_rest).tolist() == [0, 40]


def test_a_weak_beat_beside_a_rest_is_dropped_and_a_weak_one_of_weak_ones_stays():
    # strong and weak ones in turn; where a strong one would be next, something weak sounds on into the pause and before
    # its end
    frames = np.concatenate([np.arange(50, 1101, 50), np.arange(1600, 2651, 50)])
    strength = np.tile([0.9, 0.4], 22)
    strength[22:] = strength[22:][::-1]
    values = np.zeros(2700, dtype=np.float32)
    values[frames] = strength
    values[[1150, 1550]] = 0.35
    prior = make_tempo_prior(120.0, prior_bpm=PRICES.prior_bpm, octaves=PRICES.octaves)
    level = np.zeros((55, len(prior)), dtype=np.float32)
    kept = decode(values, level, prior, replace(NETWORK_SCORING, edge=0.0)).frames
    assert {1150, 1550} <= set(kept.tolist())
    found = decode(values, level, prior, NETWORK_SCORING)
    assert found.frames.tolist() == frames.tolist()
    assert np.flatnonzero(found.after_rest).tolist() == [0, 22]


def test_the_margin_is_the_loss_without_the_beat():
    # Without the onset's own beat the best row is worth that much less: hold the search to a second search in which
    # a beat here is forbidden.
    frames = np.arange(30, 1500, 50)
    values = curve(frames, 1530)
    found = search(values)
    prior = make_tempo_prior(None, prior_bpm=PRICES.prior_bpm, octaves=PRICES.octaves)
    tempo = look_for_tempo(values)
    whole = decoding._search_forward(IntervalScores(values, tempo, prior, PRICES)).beat.max()
    forbidden = values.copy()
    forbidden[frames[14] - 7 : frames[14] + 8] = -1000
    without = decoding._search_forward(IntervalScores(forbidden, tempo, prior, PRICES)).beat.max()
    assert found.margin[14] == pytest.approx(whole - without, abs=1e-2)


def test_long_music_is_decoded_in_pieces_without_a_seam(monkeypatch):
    rng = np.random.default_rng(5)
    frames = np.cumsum(np.round(50 + 4 * np.sin(np.arange(240) / 9) + rng.normal(0, 0.5, 240)).astype(int))
    values = curve(frames, int(frames[-1]) + 30)
    whole = search(values)
    monkeypatch.setattr(decoding, "_PIECE", 3000)
    monkeypatch.setattr(decoding, "_OVERLAP", 1000)
    pieces = search(values)
    assert pieces.frames.tolist() == whole.frames.tolist() == frames.tolist()
    assert np.flatnonzero(pieces.after_rest).tolist() == [0]


@pytest.mark.parametrize("length", [1, 24, 25, 26, 200])
def test_short_and_silent_curves_have_no_beat(length):
    assert len(search(np.full(length, -0.3, dtype=np.float32)).frames) == 0


def test_a_hint_decides_between_levels():
    frames = np.arange(30, 3000, 30)
    values = curve(frames, 3030)
    values[frames[1::2]] = 3
    for hint in (200, 100):
        found = search(values, hint_bpm=hint * 1.05)
        assert np.median(np.diff(found.frames)) == pytest.approx(6013.6 / hint, abs=1)
